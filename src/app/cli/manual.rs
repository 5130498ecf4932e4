//! Pages of the guide as manual pages: the Markdown that the guide uses → roff.

use clap_mangen::roff::{Inline, Roff, bold, italic, roman};

use crate::guide::Page;

/// A page of the guide as a manual page of section 7.
pub(super) fn page(page: &Page) -> String {
    let name = format!("fivefig-{}", page.topic);
    let mut roff = Roff::new();
    roff.control("TH", [name.as_str(), "7", "\"\"", "fivefig", "fivefig"]);
    roff.control("SH", ["NAME"]);
    roff.text([roman(format!("{name} - {}", page.title()))]);
    roff.control("SH", ["DESCRIPTION"]);
    let mut lines = page.text.lines().skip(1).peekable();
    while let Some(line) = lines.next() {
        if let Some(heading) = line.strip_prefix("## ") {
            roff.control("SH", [heading.replace('`', "").as_str()]);
        } else if let Some(heading) = line.strip_prefix("### ") {
            roff.control("SS", [heading.replace('`', "").as_str()]);
        } else if line.starts_with("```") {
            let code: Vec<String> = lines
                .by_ref()
                .take_while(|line| !line.starts_with("```"))
                .map(str::to_owned)
                .collect();
            preformatted(&mut roff, &code);
        } else if line.starts_with('|') {
            let mut rows = vec![line];
            while let Some(row) = lines.next_if(|line| line.starts_with('|')) {
                rows.push(row);
            }
            preformatted(&mut roff, &table(&rows));
        } else if !line.trim().is_empty() {
            let (start, item) = match line.strip_prefix("- ") {
                Some(rest) => (rest, true),
                None => (line, false),
            };
            let mut text = start.to_owned();
            while let Some(more) = lines.next_if(|line| continues(line)) {
                text.push(' ');
                text.push_str(more.trim());
            }
            if item {
                roff.control("IP", ["-", "2"]);
            } else {
                roff.control("PP", []);
            }
            roff.text(inlines(&text));
        }
    }
    roff.render()
}

/// Whether a line belongs to the paragraph or item before it.
fn continues(line: &str) -> bool {
    let starts = ["- ", "|", "```", "## ", "### "];
    !line.trim().is_empty() && !starts.iter().any(|start| line.starts_with(start))
}

/// Lines as they are, indented.
fn preformatted(roff: &mut Roff, lines: &[String]) {
    roff.control("PP", []);
    roff.control("RS", ["4"]);
    roff.control("nf", []);
    for line in lines {
        roff.text([roman(line.as_str())]);
    }
    roff.control("fi", []);
    roff.control("RE", []);
}

/// The rows of a table with the columns aligned, without the rule under the header.
fn table(rows: &[&str]) -> Vec<String> {
    let cells = |row: &&str| -> Vec<String> {
        let inner = row.trim_matches('|');
        inner.split('|').map(|cell| plain(cell.trim())).collect()
    };
    let rule = |row: &&&str| !row.starts_with("|---");
    let rows: Vec<Vec<String>> = rows.iter().filter(rule).map(cells).collect();
    let columns = rows.iter().map(Vec::len).max().unwrap_or_default();
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells
            .map(|cell| cell.chars().count())
            .max()
            .unwrap_or_default()
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let line = |row: &Vec<String>| {
        let cells = row.iter().zip(&widths);
        let cells: Vec<String> = cells
            .map(|(cell, width)| format!("{cell:width$}"))
            .collect();
        cells.join("  ").trim_end().to_owned()
    };
    rows.iter().map(line).collect()
}

/// Text without the marks of code and of strong text.
fn plain(text: &str) -> String {
    text.replace("**", "").replace('`', "")
}

/// Code and strong text in bold, emphasis in italics.
fn inlines(text: &str) -> Vec<Inline> {
    let mut out = Vec::new();
    let mut rest = text;
    loop {
        let found = ["`", "**", "*"].into_iter().filter_map(|mark| {
            let (before, after) = rest.split_once(mark)?;
            let (inside, after) = after.split_once(mark)?;
            (!inside.is_empty()).then_some((before, mark, inside, after))
        });
        let Some((before, mark, inside, after)) = found.min_by_key(|(before, ..)| before.len())
        else {
            break;
        };
        out.push(roman(before));
        out.push(match mark {
            "*" => italic(inside),
            _ => bold(plain(inside)),
        });
        rest = after;
    }
    out.push(roman(rest));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_become_fonts() {
        let text = "`--to A`, **not `B`**; *so* 2 ** 3";
        let expected = vec![
            roman(""),
            bold("--to A"),
            roman(", "),
            bold("not B"),
            roman("; "),
            italic("so"),
            roman(" 2 ** 3"),
        ];
        assert_eq!(inlines(text), expected);
    }

    #[test]
    fn columns_are_aligned_and_the_rule_is_left_out() {
        let rows = ["| key | °C |", "|---|---|", "| `longer` | 4 |", "| | 5 |"];
        assert_eq!(table(&rows), ["key     °C", "longer  4", "        5"]);
    }

    #[test]
    fn every_block_has_its_macro() {
        let text = "# Title\n\nA line\nand more.\n\n## `Head`\n\n- one\n  more\n- two\n\n```sh\n.x\n\n'y\n```\n";
        let made = page(&Page {
            topic: "start",
            text,
        });
        let expected = ".TH fivefig-start 7 \"\" fivefig fivefig
.SH NAME
fivefig\\-start \\- Title
.SH DESCRIPTION
.PP
A line and more.
.SH Head
.IP - 2
one more
.IP - 2
two
.PP
.RS 4
.nf
\\&.x

\\*(Aqy
.fi
.RE
";
        assert!(made.ends_with(expected), "{made}");
    }
}
