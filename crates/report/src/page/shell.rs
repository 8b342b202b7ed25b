//! What every page has around its body: head, content policy, style, script and the embedded result.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenpull_core::safe_text::one_line_within;
use minijinja::syntax::SyntaxConfig;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::error::ReportError;
use crate::font;

const SHELL: &str = include_str!("../../templates/shell.html");
const MACROS: &str = include_str!("../../templates/parts.html");
const CSS: &str = include_str!("../../templates/page.css");
const SCRIPT: &str = include_str!("../../templates/page.js");

/// One kind of page.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kind {
    /// What the embedded result is called in the page: `evenpull-review`.
    pub(super) data_id: &'static str,
    /// The template of everything between header and end; `parts.html` is there for import.
    pub(super) body: &'static str,
}

/// What stands at the top of a page.
#[derive(Debug, Clone, Copy)]
pub(super) struct Head<'a> {
    /// Title of the browser's tab.
    pub(super) title: &'a str,
    /// The machine or fleet, above the headline.
    pub(super) kicker: &'a str,
    /// The finding in a sentence.
    pub(super) headline: &'a str,
}

/// Renders a page: `values` are for the body, `result` is embedded as JSON.
///
/// # Errors
/// [`ReportError`] from the template or from a result that is no JSON.
pub(super) fn render(
    kind: Kind,
    head: Head<'_>,
    values: Value,
    result: &impl Serialize,
) -> Result<String, ReportError> {
    let mut env = Environment::new();
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    env.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    env.add_template("parts.html", MACROS)?;
    env.add_template("body.html", kind.body)?;
    env.add_template("shell.html", SHELL)?;
    let style = format!("{}{CSS}{}", font::css(), footer(head.kicker));
    let policy = format!(
        "default-src 'none'; img-src data:; font-src data:; style-src '{}'; script-src '{}'; base-uri 'none'; form-action 'none'",
        hash(&style),
        hash(SCRIPT)
    );
    let body = env.get_template("body.html")?.render(values)?;
    let page = env.get_template("shell.html")?.render(context! {
        title => head.title,
        kicker => head.kicker,
        headline => head.headline,
        policy => policy,
        style => Value::from_safe_string(style),
        body => Value::from_safe_string(body),
        data_id => kind.data_id,
        data => Value::from_safe_string(inert_json(result)?),
        script => Value::from_safe_string(SCRIPT.to_owned()),
    })?;
    Ok(page)
}

/// Characters of the machine's name in the footer of a printed sheet: what fits beside the page number.
const FOOTER: usize = 70;

/// The machine at the foot of every printed sheet, so that sheets of two machines can be told apart.
fn footer(kicker: &str) -> String {
    let name = css_string(&one_line_within(kicker, FOOTER));
    format!("@media print{{@page{{@bottom-left{{content:\"{name}\";font:9pt \"Noto Sans\",sans-serif}}}}}}\n")
}

/// A text for a CSS string: everything but ASCII letters and digits by its code point, so that nothing in it can end the
/// string or the style block.
///
/// # Source
/// CSS Syntax Module Level 3, section 4.3.7: six hexadecimal digits need no space after them.
fn css_string(text: &str) -> String {
    let one = |c: char| {
        if c.is_ascii_alphanumeric() { c.to_string() } else { format!("\\{:06x}", u32::from(c)) }
    };
    text.chars().map(one).collect()
}

fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

/// A result for the data block of the page: no `<`, `>` or `&` that could end the block.
fn inert_json(result: &impl Serialize) -> Result<String, ReportError> {
    let json = serde_json::to_string(result)?;
    let mut out = String::with_capacity(json.len() + 64);
    for c in json.chars() {
        match c {
            '<' => out.push_str("\\u003c"),
            '>' => out.push_str("\\u003e"),
            '&' => out.push_str("\\u0026"),
            '\u{2028}' => out.push_str("\\u2028"),
            '\u{2029}' => out.push_str("\\u2029"),
            c => out.push(c),
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_cannot_leave_the_string_or_the_block() {
        let rule = footer("HS-01 \"}</style><script>\\");
        assert_eq!(rule.matches('"').count(), 4, "{rule}");
        assert!(!rule.contains('<') && !rule.contains("}<"), "{rule}");
        // CSS Syntax 3, 4.3.7: U+0022 is \000022, whatever follows.
        assert!(rule.contains("HS\\00002d01\\000020\\000022\\00007d\\00003c"), "{rule}");
    }
}
