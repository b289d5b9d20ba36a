//! What was noticed, as lines below a report.

use super::one_line;
use super::paragraph::{width, wrapped};
use super::table::Screen;
use crate::view::FindingView;

/// A short list under its own title; nothing where nothing was noticed.
#[must_use]
pub fn terminal_findings(findings: &[FindingView], screen: Screen) -> String {
    if findings.is_empty() {
        return String::new();
    }
    let lines = findings.iter().map(|finding| wrapped("- ", &one_line(&finding.message), width(screen)));
    format!("\nAlso noticed:\n{}", lines.collect::<String>())
}
