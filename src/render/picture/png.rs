//! Pictures as PNG, for letters: mail programs show no SVG.

use super::Picture;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb::Database};
use std::sync::Arc;

/// The font of the pictures: Noto Sans, licensed under the SIL Open Font License, Version 1.1 (`fonts/`).
static FONT: &[u8] = include_bytes!("../../../fonts/NotoSans-subset.ttf");

/// Pixels for one unit of a picture: sharp on screens that show two for one, too.
const PIXELS: u32 = 2;

/// Why a picture could not be drawn: a fault of the program.
#[derive(Debug, thiserror::Error)]
#[error("the picture {id} cannot be drawn: {reason}")]
pub struct DrawError {
    /// Which.
    pub id: String,
    /// Why.
    pub reason: String,
}

/// Draws pictures.
pub struct Painter {
    options: Options<'static>,
}

impl Default for Painter {
    fn default() -> Self {
        let mut fonts = Database::new();
        fonts.load_font_data(FONT.to_vec());
        // Whatever family the picture asks for, there is one font: no look at what the computer has.
        fonts.set_sans_serif_family("Noto Sans");
        Self { options: Options { fontdb: Arc::new(fonts), font_family: "Noto Sans".to_owned(), ..Options::default() } }
    }
}

impl Painter {
    /// The picture as a PNG file, twice as many pixels wide as it has units.
    ///
    /// # Errors
    /// [`DrawError`] where the drawing fails.
    pub fn png(&self, picture: &Picture) -> Result<Vec<u8>, DrawError> {
        let fault = |reason: String| DrawError { id: picture.id.clone(), reason };
        // A page knows what an SVG element is, a file of its own has to say so.
        let file = picture.svg.replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" ", 1);
        let tree = Tree::from_str(&file, &self.options).map_err(|error| fault(error.to_string()))?;
        let mut pixels = Pixmap::new(picture.width * PIXELS, picture.height * PIXELS)
            .ok_or_else(|| fault("it has no size".to_owned()))?;
        // A small whole number.
        let scale = PIXELS as f32;
        resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
        pixels.encode_png().map_err(|error| fault(error.to_string()))
    }
}
