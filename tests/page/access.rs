//! Accessibility, by the rules of axe-core for WCAG 2.2, levels A and AA.

use serde_json::json;

use crate::tab::Tab;

/// The checker, or nothing where it is not installed.
pub struct Checker(Option<String>);

impl Checker {
    /// The one that `FRAMEFALL_AXE` names. In CI it must be there.
    pub fn found() -> Self {
        let path = std::env::var_os("FRAMEFALL_AXE");
        if path.is_none() {
            assert!(std::env::var_os("CI").is_none(), "CI checks accessibility");
            eprintln!("accessibility skipped: FRAMEFALL_AXE names no axe.min.js of axe-core");
        }
        Self(path.map(|path| std::fs::read_to_string(path).unwrap()))
    }

    /// Holds what the tab shows to the rules.
    pub fn check(&self, tab: &mut Tab, what: &str) {
        let Some(axe) = &self.0 else {
            return;
        };
        tab.value(&format!("{axe};0"));
        let found = tab.value(
            "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}).then((r) => ({
               passes: r.passes.length,
               violations: r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html.slice(0, 120) + ' ' + n.failureSummary).join(' | '))}))",
        );
        assert!(found["passes"].as_u64().unwrap() > 10, "{what}: {found}");
        assert_eq!(found["violations"], json!([]), "{what}");
    }
}
