//! No logic of the sources reads words: what something is, an enum says, and texts are
//! made of it, never the other way.

use super::arrows::modules;

/// Literals that are compared although words stand in them, each with its reason.
const ALLOWED: &[(&str, &str, &str)] = &[
    (
        "tables::bufr",
        "Code table",
        "Table B names code tables in its column of units",
    ),
    (
        "tables::bufr",
        "Flag table",
        "Table B names flag tables in its column of units",
    ),
    (
        "tables::bufr",
        "CCITT IA5",
        "Table B names texts in its column of units",
    ),
];

/// Values whose text was made for a reader and is compared all the same.
const RENDERED: &[(&str, &str, &str)] = &[(
    "model::rule",
    "rule.text() == text",
    "a document gives a rule as its text: the rule whose own text it is",
)];

/// What compares a text with the literal that follows.
const COMPARISONS: [&str; 9] = [
    "== ",
    "!= ",
    "starts_with(",
    "ends_with(",
    "contains(",
    "find(",
    "strip_prefix(",
    "strip_suffix(",
    "split_once(",
];

/// Texts made for a reader, when what follows compares them.
const MADE: [&str; 7] = [
    ".to_string()",
    ".text()",
    ".message()",
    ".what",
    ".meaning",
    ".clause",
    ":?}\")",
];

/// A source without comments and tests, each run of blanks as one.
fn bare(source: &str) -> String {
    let code = source.split("\nmod tests {").next();
    let lines = code.unwrap_or_default().lines().map(str::trim);
    let code: Vec<&str> = lines.filter(|line| !line.starts_with("//")).collect();
    // A literal on a line of its own belongs to the call before it.
    code.join(" ").replace("( \"", "(\"")
}

/// The literal at the start of a text, and what follows it.
fn literal(text: &str) -> Option<(&str, &str)> {
    let inside = text.strip_prefix('"')?;
    let mut escaped = false;
    let end = inside.find(|c| {
        let ends = c == '"' && !escaped;
        escaped = c == '\\' && !escaped;
        ends
    })?;
    Some((&inside[..end], &inside[end + 1..]))
}

/// Whether a literal holds words or markup: two words, a tag, or an attribute.
fn is_wording(literal: &str) -> bool {
    let words = literal.split(' ').filter(|word| {
        let mut letters = word.chars().filter(|c| c.is_alphabetic());
        letters.by_ref().nth(1).is_some()
    });
    words.count() > 1 || literal.contains('<') || literal.contains("=\\\"")
}

/// Every comparison with wording in a source: the literals.
fn compared(code: &str) -> Vec<String> {
    let after_comparison = COMPARISONS.iter().flat_map(|comparison| {
        let found = code.match_indices(comparison);
        found.filter_map(|(at, _)| literal(&code[at + comparison.len()..]))
    });
    // An arm of a match: a literal before `=>` or `|`, or after `|`.
    let arms = code.match_indices('"').filter_map(|(at, _)| {
        let found = literal(&code[at..])?;
        let follows = found.1.trim_start();
        (follows.starts_with("=>") || follows.starts_with("| \"")).then_some(found)
    });
    let literals = after_comparison.chain(arms).map(|(literal, _)| literal);
    let wording = literals.filter(|literal| is_wording(literal));
    wording.map(str::to_owned).collect()
}

/// Every comparison of a text that was made for a reader: what stands there.
fn made(code: &str) -> Vec<String> {
    let found = MADE.iter().flat_map(|made| {
        code.match_indices(made).filter_map(|(at, _)| {
            let follows = &code[at + made.len()..];
            let compares = COMPARISONS.iter().any(|comparison| {
                let direct = follows.strip_prefix(' ').unwrap_or(follows);
                direct.starts_with(comparison)
                    || follows.starts_with(&format!(".{comparison}\""))
                    || follows.starts_with(&format!(" .{comparison}\""))
            });
            let from = code[..at].rfind([' ', '(', '|']).map_or(0, |from| from + 1);
            let to = follows
                .char_indices()
                .nth(10)
                .map_or(follows.len(), |(to, _)| to);
            compares.then(|| code[from..at + made.len() + to].to_owned())
        })
    });
    found.collect()
}

#[test]
fn no_logic_reads_words() {
    let mut faults = Vec::new();
    let mut used = Vec::new();
    for (module, source) in modules() {
        if module.iter().any(|name| name == "tests") {
            continue;
        }
        let (name, code) = (module.join("::"), bare(&source));
        for (found, allowed) in [(compared(&code), ALLOWED), (made(&code), RENDERED)] {
            for text in found {
                let own = |(of, literal, _): &&(&str, &str, &str)| {
                    *of == name && text.starts_with(literal)
                };
                match allowed.iter().find(own) {
                    Some(entry) => used.push(*entry),
                    None => faults.push(format!("{name}: {text}")),
                }
            }
        }
    }
    assert!(
        faults.is_empty(),
        "use an enum instead:\n{}",
        faults.join("\n")
    );
    let spare = ALLOWED
        .iter()
        .chain(RENDERED)
        .find(|entry| !used.contains(entry));
    assert_eq!(spare, None, "no longer needed");
}

/// The patterns find what stood in the sources before.
#[test]
fn wording_is_found() {
    for code in [
        "self.text.starts_with(\"without it\")",
        "d.starts_with( \"height_gpm by hydrostatic\")",
        "match value { \"by height\" => 1, _ => 2 }",
        "svg.find(\"<style>\")",
        "svg.contains(\"id=\\\"level-\")",
    ] {
        assert!(!compared(&bare(code)).is_empty(), "{code}");
    }
    for code in [
        "error.to_string() == other",
        "finding.what.contains(\"left\")",
        "format!(\"{region:?}\") != \"None\"",
    ] {
        assert!(!made(code).is_empty(), "{code}");
    }
    for code in [
        "group == \"61616\"",
        "text.split_once(\": \")",
        "line.starts_with(\"## \")",
        "path.ends_with(\".toml\")",
        "let what = format!(\"a level at {p} hPa\");",
    ] {
        assert!(
            compared(&bare(code)).is_empty() && made(code).is_empty(),
            "{code}"
        );
    }
}
