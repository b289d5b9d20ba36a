//! HTML pages from the templates of `reports/`: built into the program, and replaced by the workshop's own copies.
//!
//! Everything that comes from the workshop's data is escaped. A copy of the workshop that cannot be used never stops a
//! letter: the built-in page is used in its place, and a warning names file and line.

use include_dir::{Dir, include_dir};
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value};
use serde::Serialize;
use std::path::{Path, PathBuf};

static BUILT_IN: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/reports");

/// Name of the reorder list's page.
pub const REORDER: &str = "reorder.html";

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

/// The page `name` filled with `page`. `own_folder` is where the workshop keeps changed copies: `<workshop>/reports`.
///
/// # Errors
/// [`PageError`] where not even the built-in page can be made.
pub fn render(name: &str, page: &impl Serialize, own_folder: Option<&Path>) -> Result<Rendered, PageError> {
    let filled = Value::from(Serde(page));
    let mut warnings = Vec::new();
    if let Some(folder) = own_folder.filter(|folder| folder.join(name).is_file()) {
        match own_page(folder, name, &filled) {
            Ok(html) => return Ok(Rendered { html, warnings }),
            Err(fault) => warnings.push(format!("{fault}; the built-in page was used instead.")),
        }
    }
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

/// The page with the workshop's copies before the built-in ones; the fault in words where that fails.
fn own_page(folder: &Path, name: &str, filled: &Value) -> Result<String, String> {
    let place = |error: &minijinja::Error| {
        let file = folder.join(error.name().unwrap_or(name));
        let line = error.line().map(|line| format!(", line {line}")).unwrap_or_default();
        let detail = error.detail().map(|detail| format!(": {detail}")).unwrap_or_default();
        format!("{}{line}: {}{detail}", file.display(), error.kind())
    };
    let mut environment = built_in().map_err(|error| place(&error))?;
    for path in own_templates(folder)? {
        let source = std::fs::read_to_string(&path).map_err(|error| format!("{}: {error}", path.display()))?;
        let own_name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        environment.add_template_owned(own_name, source).map_err(|error| place(&error))?;
    }
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
    use minijinja::context;

    fn with_copy(content: &[u8]) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let own = folder.path().join("reports");
        std::fs::create_dir(&own).unwrap();
        std::fs::write(own.join(REORDER), content).unwrap();
        (folder, own)
    }

    fn page() -> minijinja::Value {
        context! { headline => "<b>News</b> {{ 7*7 }}", today => "", through => "", gap => "", footer => "",
        late => (), moves => (), moves_note => "", uncovered => (), orders => (), outlook => (), sums => (), notes => (),
            findings => () }
    }

    #[test]
    fn a_changed_copy_wins_and_is_escaped() {
        let (_folder, own) = with_copy(b"<p>{{ headline }}</p>");
        let rendered = render(REORDER, &page(), Some(&own)).unwrap();
        assert_eq!(rendered.html, "<p>&lt;b&gt;News&lt;&#x2f;b&gt; {{ 7*7 }}</p>");
        assert!(rendered.warnings.is_empty());
    }

    #[test]
    fn a_broken_copy_gives_way_and_says_where() {
        let built_in = render(REORDER, &page(), None).unwrap().html;
        for (content, line) in [
            (&b"<p>\n{{ headline"[..], "line 2"),
            (b"\n\n{{ heading_that_is_not_there }}", "line 3"),
            (b"{% include 'reports.html' %}", "line 1"),
            (b"\xff\xfe", "UTF-8"),
        ] {
            let (_folder, own) = with_copy(content);
            let rendered = render(REORDER, &page(), Some(&own)).unwrap();
            assert_eq!(rendered.html, built_in);
            let [warning] = rendered.warnings.as_slice() else { panic!("one warning: {:?}", rendered.warnings) };
            assert!(warning.contains("reorder.html") && warning.contains(line), "{warning}");
        }
    }

    #[test]
    fn no_copy_is_no_fault() {
        let folder = tempfile::tempdir().unwrap();
        let rendered = render(REORDER, &page(), Some(&folder.path().join("reports"))).unwrap();
        assert!(rendered.warnings.is_empty());
    }
}
