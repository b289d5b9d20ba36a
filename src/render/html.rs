//! HTML pages from the templates of `reports/`: built into the program, and replaced by the workshop's own copies.
//!
//! Everything that comes from the workshop's data is escaped. A copy of the workshop that cannot be used never stops a
//! letter: the built-in page is used in its place, and a warning names file and line.

use super::document::Document;
use include_dir::{Dir, include_dir};
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value};
use serde::Serialize;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

static BUILT_IN: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/reports");

/// Name of the template of every report without one of its own.
pub const REPORT: &str = "report.html";

/// The work that a page of the workshop's own may take, in the template engine's units: an instruction, or 64 bytes made. One
/// that loops for ever was stopped after 1.3 seconds of computing, one that doubles a text after 0.9 seconds and at 696 MB (debug
/// build, the example workshop).
const MOST_WORK: u64 = 10_000_000;
/// The most bytes of a template, forty times what the longest of ours has.
const MOST_BYTES: u64 = 128 << 10;
/// How deep pages, blocks and macros of the workshop's own may call each other.
const MOST_CALLS: usize = 50;
/// The stack on which a page of the workshop's own is made. The template engine takes a chain of filters, and a value within
/// values, step into step: of [`MOST_BYTES`] and [`MOST_CALLS`] the worst that was found asked for less than half of this in
/// a debug build. It is address space; a page that does not ask for it does not use it.
const STACK_BYTES: usize = 512 << 20;

/// A page, and what was wrong with the workshop's own copy of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rendered {
    /// The page.
    pub html: String,
    /// A sentence each.
    pub warnings: Vec<String>,
}

/// Why there is no page.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The built-in template failed: a fault of the program.
    #[error("the built-in page {name} cannot be made: {source}")]
    BuiltIn {
        /// The template.
        name: String,
        /// What the template engine says.
        source: minijinja::Error,
    },
}

/// What the template of a report is given.
#[derive(Serialize)]
struct Reports<'a> {
    /// The page's title.
    title: &'a str,
    /// The reports, one below the other.
    reports: &'a [Document],
    /// True for a letter: its pictures are attached, and it is no page of its own.
    letter: bool,
    /// Sentences before the first report.
    preface: &'a [String],
}

/// A page of its own for one report: `<report>.html` of the workshop where there is one, else [`REPORT`].
///
/// # Errors
/// [`PageError`] where not even the built-in page can be made.
pub fn report(document: &Document, own_folder: Option<&Path>) -> Result<Rendered, PageError> {
    let page = Reports { title: &document.title, reports: std::slice::from_ref(document), letter: false, preface: &[] };
    let own_name = format!("{}.html", document.name);
    let has_own = own_folder.is_some_and(|folder| folder.join(&own_name).is_file());
    render(if has_own { &own_name } else { REPORT }, &page, own_folder)
}

/// The HTML part of a letter with these reports. Its pictures are `cid:` and their ids.
///
/// # Errors
/// [`PageError`] where not even the built-in page can be made.
pub fn letter(
    title: &str,
    preface: &[String],
    reports: &[Document],
    own_folder: Option<&Path>,
) -> Result<Rendered, PageError> {
    render(REPORT, &Reports { title, reports, letter: true, preface }, own_folder)
}

/// The page `name` filled with `page`. `own_folder` is where the workshop keeps changed copies: `<workshop>/reports`. A
/// report's own page that is not built in falls back to [`REPORT`].
///
/// # Errors
/// [`PageError`] where not even the built-in page can be made.
pub fn render(name: &str, page: &impl Serialize, own_folder: Option<&Path>) -> Result<Rendered, PageError> {
    let filled = Value::from(Serde(page));
    let mut warnings = Vec::new();
    if let Some(folder) = own_folder.filter(|folder| own_templates(folder).is_ok_and(|paths| !paths.is_empty())) {
        match on_a_large_stack(|| own_page(folder, name, &filled)) {
            Ok(html) => return Ok(Rendered { html, warnings }),
            Err(fault) => warnings.push(format!("{fault}; the built-in page was used instead.")),
        }
    }
    let name = if BUILT_IN.get_file(name).is_some() { name } else { REPORT };
    let html = built_in().and_then(|environment| environment.get_template(name)?.render(&filled));
    let html = html.map_err(|source| PageError::BuiltIn { name: name.to_owned(), source })?;
    Ok(Rendered { html, warnings })
}

fn built_in() -> Result<Environment<'static>, minijinja::Error> {
    let mut environment = Environment::new();
    // Tags on lines of their own leave no empty lines behind: a letter is half the size without them.
    environment.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    for file in BUILT_IN.files() {
        if let (Some(name), Some(source)) = (file.path().to_str(), file.contents_utf8()) {
            environment.add_template(name, source)?;
        }
    }
    Ok(environment)
}

/// What `make` makes, where a stack of the usual size might not do.
fn on_a_large_stack(make: impl FnOnce() -> Result<String, String> + Send) -> Result<String, String> {
    std::thread::scope(|scope| {
        let made = std::thread::Builder::new().stack_size(STACK_BYTES).spawn_scoped(scope, make);
        let made = made.map_err(|error| format!("the pages of this workshop's own cannot be made here: {error}"))?;
        made.join().unwrap_or_else(|_| Err("the template engine gave up".to_owned()))
    })
}

/// The page with the workshop's copies before the built-in ones; the fault in words where that fails. A copy is only read
/// where the page asks for it, so that a broken one of another page does no harm here.
fn own_page(folder: &Path, name: &str, filled: &Value) -> Result<String, String> {
    let paths = own_templates(folder)?;
    let place = |error: &minijinja::Error| {
        let faulty = error.name().unwrap_or(name);
        let is_own = paths.iter().any(|path| path.file_name().is_some_and(|own| own.to_string_lossy() == faulty));
        let line = error.line().map(|line| format!(", line {line}")).unwrap_or_default();
        let detail = error.detail().map(|detail| format!(": {detail}")).unwrap_or_default();
        let what = format!("{}{detail}", error.kind());
        if is_own {
            format!("{}{line}: {what}", folder.join(faulty).display())
        } else {
            format!("{}: the built-in {faulty}{line}: {what}", folder.join(name).display())
        }
    };
    let mut environment = built_in().map_err(|error| place(&error))?;
    for path in &paths {
        environment.remove_template(&path.file_name().unwrap_or_default().to_string_lossy());
    }
    environment.set_fuel(Some(MOST_WORK));
    environment.set_recursion_limit(MOST_CALLS);
    // Values that outlive a loop could be put into each other ten million times.
    environment.remove_global("namespace");
    let own_paths = paths.clone();
    environment.set_loader(move |asked| {
        // Only what lies in the folder itself, by its name: no template reaches a file beside it.
        let own = own_paths.iter().find(|path| path.file_name().is_some_and(|own| own.to_string_lossy() == asked));
        let Some(path) = own else { return Ok(None) };
        let fault = |error: std::io::Error| {
            let fault = minijinja::Error::new(minijinja::ErrorKind::TemplateNotFound, error.to_string());
            fault.with_source(error)
        };
        let mut text = String::new();
        let read = File::open(path).and_then(|file| file.take(MOST_BYTES + 1).read_to_string(&mut text));
        if read.map_err(fault)? as u64 > MOST_BYTES {
            return Err(fault(std::io::ErrorKind::FileTooLarge.into()));
        }
        Ok(Some(text))
    });
    environment.get_template(name).and_then(|template| template.render(filled)).map_err(|error| place(&error))
}

/// All `.html` files of the folder, in order of name.
fn own_templates(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let entries = std::fs::read_dir(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    let paths = entries.filter_map(|entry| entry.ok().map(|entry| entry.path()));
    let mut paths: Vec<PathBuf> =
        paths.filter(|path| path.is_file() && path.extension().is_some_and(|end| end == "html")).collect();
    paths.sort();
    Ok(paths)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::document::Block;

    fn with_copy(name: &str, content: &[u8]) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let own = folder.path().join("reports");
        std::fs::create_dir(&own).unwrap();
        std::fs::write(own.join(name), content).unwrap();
        (folder, own)
    }

    fn document() -> Document {
        Document::new("stock", "<b>News</b> {{ 7*7 }}").section("Part", vec![Block::paragraph("a & b")])
    }

    #[test]
    fn a_changed_copy_wins_and_is_escaped() {
        for name in ["report.html", "stock.html"] {
            let (_folder, own) = with_copy(name, b"<p>{{ title }}</p>");
            let rendered = report(&document(), Some(&own)).unwrap();
            assert_eq!(rendered.html, "<p>&lt;b&gt;News&lt;&#x2f;b&gt; {{ 7*7 }}</p>", "{name}");
            assert!(rendered.warnings.is_empty());
        }
        let (_folder, own) = with_copy("month.html", b"<p>{{ title }}</p>");
        let rendered = report(&document(), Some(&own)).unwrap();
        assert_eq!(rendered.html, report(&document(), None).unwrap().html, "another report's page is not for this one");
    }

    #[test]
    fn a_changed_frame_is_the_frame_of_the_built_in_page() {
        let frame = b"<main>{% block content %}{% endblock %}</main>";
        let (_folder, own) = with_copy("base.html", frame);
        let rendered = report(&document(), Some(&own)).unwrap();
        assert!(rendered.html.starts_with("<main>") && rendered.html.contains("a &amp; b"), "{}", rendered.html);
        assert!(rendered.warnings.is_empty());
    }

    #[test]
    fn a_broken_copy_gives_way_and_says_where() {
        let built_in = report(&document(), None).unwrap().html;
        for (name, content, line) in [
            ("report.html", &b"<p>\n{{ title"[..], "line 2"),
            ("report.html", b"\n\n{{ heading_that_is_not_there }}", "line 3"),
            ("report.html", b"{% include 'reports.html' %}", "line 1"),
            ("report.html", b"{% include '../secret.html' %}", "line 1"),
            ("report.html", b"\xff\xfe", "UTF-8"),
            ("stock.html", b"{% for %}", "line 1"),
            ("base.html", b"\n{% block %}", "line 2"),
        ] {
            let (folder, own) = with_copy(name, content);
            std::fs::write(folder.path().join("secret.html"), "secret").unwrap();
            let rendered = report(&document(), Some(&own)).unwrap();
            assert_eq!(rendered.html, built_in);
            let [warning] = rendered.warnings.as_slice() else { panic!("one warning: {:?}", rendered.warnings) };
            assert!(warning.contains(name) && warning.contains(line), "{warning}");
        }
    }

    #[test]
    fn a_broken_copy_of_another_page_does_no_harm() {
        let (_folder, own) = with_copy("weighing.html", b"{% for %}");
        assert!(report(&document(), Some(&own)).unwrap().warnings.is_empty());
    }

    #[test]
    fn no_copy_is_no_fault() {
        let folder = tempfile::tempdir().unwrap();
        let rendered = report(&document(), Some(&folder.path().join("reports"))).unwrap();
        assert!(rendered.warnings.is_empty());
    }
}
