//! What makes a loaded page good or bad.

use serde_json::Value;

use super::tab::{Heard, Tab};

/// Looks at the page from inside: a list of faults in words.
pub(super) const PAGE_CHECKS: &str = include_str!("page_checks.js");

/// Everything wrong with the page a tab shows; `tallest_px` where it may not be longer.
pub fn judge(tab: &mut Tab, origin: &str, tallest_px: Option<u32>) -> Result<Vec<String>, String> {
    // Letters change widths and heights when their font arrives.
    tab.ask("document.fonts.ready.then(() => true)")?;
    let width_px = tab.width_px();
    let tallest = tallest_px.map_or_else(|| "null".to_owned(), |most| most.to_string());
    let checks = PAGE_CHECKS.trim().trim_end_matches(';');
    let answer = tab.ask(&format!("({checks})({width_px}, {tallest})"))?;
    let Value::Array(faults) = answer else {
        return Err(format!("the page checks answered {answer}"));
    };
    let mut faults: Vec<String> =
        faults.iter().filter_map(|fault| fault.as_str().map(str::to_string)).collect();
    faults.extend(faults_heard(tab.heard(), origin));
    Ok(faults)
}

fn faults_heard(heard: &Heard, origin: &str) -> Vec<String> {
    let mut faults = heard.complaints.clone();
    let strangers = heard.requests.iter().filter(|url| !is_own(url, origin));
    faults.extend(strangers.map(|url| format!("asks another host: {url}")));
    match heard.document_status {
        Some(200..=299) => {}
        Some(status) => faults.push(format!("answered with status {status}")),
        None => faults.push("no answer from the server was seen".to_string()),
    }
    faults
}

/// Whether an address stays with the server, or needs none.
fn is_own(url: &str, origin: &str) -> bool {
    let rest = url.strip_prefix(origin);
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(['/', '?', '#']))
        || url.starts_with("data:")
        || url == "about:blank"
}

#[cfg(test)]
mod tests {
    use super::{Heard, faults_heard, is_own};

    #[test]
    fn only_the_servers_own_addresses_are_own() {
        let origin = "http://127.0.0.1:80";
        for own in [
            "http://127.0.0.1:80/",
            "http://127.0.0.1:80",
            "http://127.0.0.1:80/a?b#c",
            "data:,x",
            "about:blank",
        ] {
            assert!(is_own(own, origin), "{own}");
        }
        for other in
            ["http://127.0.0.1:8080/", "http://127.0.0.1/", "https://127.0.0.1:80/", "http://example.org/"]
        {
            assert!(!is_own(other, origin), "{other}");
        }
    }

    #[test]
    fn an_error_page_is_a_fault_and_so_is_silence() {
        let mut heard = Heard { document_status: Some(200), ..Heard::default() };
        assert!(faults_heard(&heard, "http://a").is_empty());
        heard.document_status = Some(500);
        assert_eq!(faults_heard(&heard, "http://a"), ["answered with status 500"]);
        heard.document_status = None;
        assert_eq!(faults_heard(&heard, "http://a").len(), 1);
    }
}
