//! A page as a browser and as an XML parser see it.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

use roxmltree::Document;

/// Holds a page to the rules of the house: well formed, nothing from outside, every plot with a name and a
/// description, every picture with words, every id once.
pub fn check_page(html: &str) {
    let body = html
        .strip_prefix("<!DOCTYPE html>\n")
        .expect("a document type");
    let page = Document::parse(body).unwrap_or_else(|e| panic!("not well formed: {e}"));
    let mut ids = BTreeSet::new();
    for node in page.descendants().filter(roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        assert!(
            !["script", "link", "iframe", "object", "base", "form"].contains(&name),
            "{name} on the page"
        );
        for attribute in node.attributes() {
            assert!(!attribute.name().starts_with("on"), "{}", attribute.name());
            if ["src", "href", "srcset"].contains(&attribute.name()) {
                assert!(
                    attribute.value().starts_with("data:image/jpeg;base64,"),
                    "{name} refers to {}",
                    attribute.value()
                );
            }
        }
        if let Some(id) = node.attribute("id") {
            assert!(ids.insert(id.to_owned()), "the id {id} stands twice");
        }
        match name {
            "img" => assert!(!node.attribute("alt").unwrap_or("").is_empty()),
            "th" => assert!(node.attribute("scope").is_some()),
            "svg" if node.attribute("aria-hidden").is_none() => {
                assert_eq!(node.attribute("role"), Some("img"));
                let labels = node.attribute("aria-labelledby").expect("a name");
                for label in labels.split(' ') {
                    let told = node
                        .children()
                        .find(|child| child.attribute("id") == Some(label))
                        .and_then(|child| child.text());
                    assert!(told.is_some_and(|t| t.len() > 8), "{label} says nothing");
                }
            }
            _ => {}
        }
    }
    assert!(
        !html.contains("url(") && !html.contains("@import"),
        "the style fetches"
    );
    assert!(
        !html.contains("NaN") && !html.contains("inf\""),
        "a number went wrong"
    );
}

/// The words of a page, in order.
pub fn words_of(html: &str) -> String {
    let page = Document::parse(html.strip_prefix("<!DOCTYPE html>\n").unwrap()).unwrap();
    let text = page.descendants().filter(roxmltree::Node::is_text);
    text.filter(|n| n.parent().is_none_or(|p| p.tag_name().name() != "style"))
        .filter_map(|n| n.text())
        .collect::<Vec<_>>()
        .join(" ")
}

/// A browser, where one is installed.
pub fn chromium() -> Option<&'static str> {
    ["chromium", "chromium-browser", "google-chrome"]
        .into_iter()
        .find(|name| Command::new(name).arg("--version").output().is_ok())
}

/// What a browser makes of a page at a width: how wide its contents are, and how many plots show.
pub fn measured(browser: &str, folder: &Path, html: &str, width: u32) -> Option<(u32, u32)> {
    // The page itself runs nothing; the copy measured here is allowed to.
    let measure = "<script>addEventListener('load',()=>parent.postMessage(document.documentElement.scrollWidth+' '+\
                   [...document.querySelectorAll('svg.plot')].filter(s=>s.getBoundingClientRect().height>40).length,'*'))</script></body>";
    let copy = html
        .replace("default-src 'none'", "script-src 'unsafe-inline'")
        .replace(
            "default-src &#39;none&#39;",
            "script-src &#39;unsafe-inline&#39;",
        )
        .replace("</body>", measure);
    std::fs::write(folder.join("copy.html"), copy).unwrap();
    let outer = format!(
        "<!DOCTYPE html><body><p id=\"said\"></p><script>addEventListener('message',e=>{{document.getElementById('said').\
         textContent=e.data}})</script><iframe src=\"copy.html\" width=\"{width}\" height=\"900\" style=\"border:0\"></iframe></body>"
    );
    std::fs::write(folder.join("outer.html"), outer).unwrap();
    let profile = folder.join("profile");
    let out = Command::new(browser)
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-background-networking",
            "--no-first-run",
            "--virtual-time-budget=4000",
            "--dump-dom",
        ])
        .arg(format!("--user-data-dir={}", profile.display()))
        .arg(format!("file://{}", folder.join("outer.html").display()))
        .output()
        .ok()?;
    let dom = String::from_utf8_lossy(&out.stdout).into_owned();
    let said = dom
        .split("id=\"said\">")
        .nth(1)?
        .split('<')
        .next()?
        .to_owned();
    let (wide, plots) = said.split_once(' ')?;
    Some((wide.parse().ok()?, plots.parse().ok()?))
}
