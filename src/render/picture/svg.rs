//! A small writer of SVG: shapes and words, every word escaped, coordinates to a tenth.

use super::{Picture, WIDTH};

/// Words and lines.
pub const INK: &str = "#1f2722";
/// Words that are less important; dark enough to be read on white (contrast 6 to 1).
pub const QUIET: &str = "#58625c";
/// Lines that guide the eye.
pub const GUIDE: &str = "#c3cbc2";
/// Areas.
pub const SHADE: &str = "#d3dcd2";
/// What has to catch the eye: dark in black and white as well.
pub const ALARM: &str = "#8f3d1b";

/// Where words stand at their point.
#[derive(Clone, Copy)]
pub enum Anchor {
    /// They begin there.
    Start,
    /// They are centred on it.
    Middle,
    /// They end there.
    End,
}

/// The signs of the pictures; each can be told from the others by its shape alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// A filled circle.
    Dot,
    /// A circle.
    Ring,
    /// A triangle that points up.
    Up,
    /// A diamond.
    Diamond,
    /// A cross.
    Cross,
    /// A filled square.
    Square,
    /// A small upright bar.
    Bar,
}

/// A picture under construction.
pub struct Svg {
    height: f64,
    body: String,
}

impl Svg {
    pub fn new(height: f64) -> Self {
        Self { height, body: String::new() }
    }

    pub fn rect(&mut self, (x, y): (f64, f64), (width, height): (f64, f64), fill: &str, stroke: &str) {
        self.body.push_str(&format!(
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" fill=\"{fill}\" stroke=\"{stroke}\"/>"
        ));
    }

    /// `dash`: `4 3` for a broken line, empty for a whole one.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: &str, width: f64, dash: &str) {
        let dash = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dash}\"") };
        self.body.push_str(&format!(
            "<line x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" stroke=\"{stroke}\" stroke-width=\"{width:.1}\"{dash}/>",
            from.0, from.1, to.0, to.1
        ));
    }

    pub fn path(&mut self, points: &[(f64, f64)], fill: &str, stroke: &str, width: f64) {
        let mut way = String::new();
        for (place, (x, y)) in points.iter().enumerate() {
            way.push_str(&format!("{}{x:.1} {y:.1}", if place == 0 { 'M' } else { 'L' }));
        }
        self.body.push_str(&format!(
            "<path d=\"{way}\" fill=\"{fill}\" stroke=\"{stroke}\" stroke-width=\"{width:.1}\" stroke-linejoin=\"round\"/>"
        ));
    }

    pub fn words(&mut self, (x, y): (f64, f64), words: &str, size: f64, colour: &str, anchor: Anchor) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        self.body.push_str(&format!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size:.1}\" fill=\"{colour}\" text-anchor=\"{anchor}\">{}</text>",
            escaped(words)
        ));
    }

    /// A sign, centred on a point.
    pub fn sign(&mut self, sign: Sign, (x, y): (f64, f64), colour: &str) {
        let half = 4.0;
        match sign {
            Sign::Dot | Sign::Ring => {
                let fill = if sign == Sign::Dot { colour } else { "#ffffff" };
                self.body.push_str(&format!(
                    "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.6\" fill=\"{fill}\" stroke=\"{colour}\" stroke-width=\"1.4\"/>"
                ));
            }
            Sign::Up => self.path(
                &[(x, y - half), (x + half, y + half), (x - half, y + half), (x, y - half)],
                colour,
                colour,
                0.8,
            ),
            Sign::Diamond => {
                let points = [(x, y - 4.6), (x + 4.6, y), (x, y + 4.6), (x - 4.6, y), (x, y - 4.6)];
                self.path(&points, colour, colour, 0.8);
            }
            Sign::Cross => {
                self.line((x - 3.4, y - 3.4), (x + 3.4, y + 3.4), colour, 1.9, "");
                self.line((x - 3.4, y + 3.4), (x + 3.4, y - 3.4), colour, 1.9, "");
            }
            Sign::Square => self.rect((x - 3.8, y - 3.8), (7.6, 7.6), colour, "none"),
            Sign::Bar => self.rect((x - 1.2, y - 4.5), (2.4, 9.0), colour, "none"),
        }
    }

    /// The picture; `title` names it, `text` says what it shows.
    pub fn finish(self, id: &str, title: &str, text: &str) -> Picture {
        let (width, height) = (WIDTH, self.height.ceil());
        let svg = format!(
            "<svg viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"{id}-title {id}-text\" \
             font-family=\"Noto Sans, Segoe UI, Helvetica Neue, Arial, sans-serif\"><title id=\"{id}-title\">{}</title>\
             <desc id=\"{id}-text\">{}</desc><rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>{}</svg>",
            escaped(title),
            escaped(text),
            self.body
        );
        // The height is a few hundred units.
        Picture { id: id.to_owned(), text: text.to_owned(), caption: String::new(), svg, width, height: height as u32 }
    }
}

fn escaped(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    for letter in super::super::one_line(words).chars() {
        match letter {
            '&' => text.push_str("&amp;"),
            '<' => text.push_str("&lt;"),
            '>' => text.push_str("&gt;"),
            '"' => text.push_str("&quot;"),
            '\'' => text.push_str("&#39;"),
            // Beyond what XML 1.0 allows (2.2): no document may hold it.
            '\u{FFFE}' | '\u{FFFF}' => {}
            letter => text.push(letter),
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stay_words() {
        let mut svg = Svg::new(20.0);
        svg.words((1.0, 2.0), "</text><script>a & b\u{0}", 12.0, INK, Anchor::Start);
        let picture = svg.finish("x", "\"quoted\"", "<b>");
        assert!(picture.svg.contains("&lt;/text&gt;&lt;script&gt;a &amp; b</text>"), "{}", picture.svg);
        assert!(picture.svg.contains("&quot;quoted&quot;</title>") && picture.svg.contains("&lt;b&gt;</desc>"));
    }
}
