//! Reports, labels and exports, read back from the files that they are written to.

mod accounts;
mod labels;
mod markup;
mod pdf_files;
mod plots;
mod samples;
mod sheets;

/// Checks that every tag of a text with markup is closed by its like, and returns the text without tags.
#[track_caller]
fn text_of_markup(markup: &str) -> String {
    const VOID: [&str; 4] = ["meta", "br", "hr", "!DOCTYPE"];
    let (mut open, mut text, mut rest) = (Vec::new(), String::new(), markup);
    while let Some(start) = rest.find('<') {
        text.push_str(&rest[..start]);
        let end = start + rest[start..].find('>').expect("a tag ends");
        let tag = &rest[start + 1..end];
        assert!(!tag.contains('<'), "a bare sign in `{tag}`");
        rest = &rest[end + 1..];
        let name = tag.split([' ', '\n', '/']).find(|part| !part.is_empty()).unwrap();
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name), "closed by `{tag}`");
        } else if !tag.ends_with('/') && !tag.starts_with('?') && !VOID.contains(&name) {
            open.push(name);
        }
        // Every quotation mark of an attribute has its partner.
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
        text.push_str(if name == "span" { "" } else { " " });
    }
    assert!(open.is_empty(), "left open: {open:?}");
    text.push_str(rest);
    for ampersand in text.match_indices('&').map(|(at, _)| &text[at..]) {
        assert!(
            ["&amp;", "&lt;", "&gt;", "&quot;", "&#39;"].iter().any(|entity| ampersand.starts_with(entity)),
            "bare ampersand"
        );
    }
    let text = text.replace('\u{A0}', " ");
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&amp;", "&")
}
