//! What is installed beside the command: manual pages and completions.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use assert_cmd::Command;

fn generate(args: &[&str]) -> (i32, String, String) {
    let mut command = Command::cargo_bin("fivefig").unwrap();
    let out = command.arg("generate").args(args).output().unwrap();
    let text = |octets| String::from_utf8(octets).unwrap();
    (
        out.status.code().unwrap(),
        text(out.stdout),
        text(out.stderr),
    )
}

/// The commands that `--help` lists.
fn commands() -> BTreeSet<String> {
    let help = Command::cargo_bin("fivefig")
        .unwrap()
        .arg("--help")
        .output()
        .unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let list = help.split("Commands:\n").nth(1).unwrap();
    let list = list.split("\n\n").next().unwrap();
    let names = list.lines().filter_map(|line| line.strip_prefix("  "));
    let names = names.filter(|line| !line.starts_with(' '));
    let names = names.filter_map(|line| line.split_whitespace().next());
    names
        .filter(|name| *name != "help")
        .map(str::to_owned)
        .collect()
}

#[test]
fn every_command_and_every_page_of_the_guide_has_a_manual_page() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().to_str().unwrap();
    assert_eq!(
        generate(&["man", "-o", at]),
        (0, String::new(), String::new())
    );
    let names: BTreeSet<String> = fs::read_dir(at)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    let own = commands();
    assert!(
        own.contains("encode") && own.contains("generate"),
        "{own:?}"
    );
    let expected = own.iter().map(|name| format!("fivefig-{name}.1"));
    let guide = fivefig::guide::PAGES.iter();
    let guide = guide.map(|page| format!("fivefig-{}.7", page.topic));
    let expected = expected.chain(guide).chain(["fivefig.1".to_owned()]);
    let expected: BTreeSet<String> = expected.collect();
    assert_eq!(names, expected);
    let page = |name: &str| fs::read_to_string(Path::new(at).join(name)).unwrap();
    assert!(page("fivefig-encode.1").contains("\\-\\-correct"));
    for name in own {
        assert!(
            page("fivefig.1").contains(&format!("fivefig\\-{name}(1)")),
            "{name}"
        );
    }
    // The same again, octet for octet.
    let before = page("fivefig-encode.1");
    generate(&["man", "-o", at]);
    assert_eq!(page("fivefig-encode.1"), before);
}

#[test]
fn completions_know_the_commands() {
    for shell in ["bash", "zsh", "fish"] {
        let (code, script, stderr) = generate(&[shell]);
        assert_eq!((code, stderr.as_str()), (0, ""), "{shell}");
        for word in commands()
            .iter()
            .map(String::as_str)
            .chain(["to100", "bulletin", "strict"])
        {
            // `to100` is no word of the command line.
            assert_eq!(script.contains(word), word != "to100", "{shell}: {word}");
        }
    }
}

#[test]
fn pages_need_a_folder() {
    let (code, page, _) = generate(&["man"]);
    assert_eq!(code, 0);
    assert!(page.contains(".TH fivefig 1"), "{page}");
    let (code, _, stderr) = generate(&["man", "-o", "no/such/folder"]);
    assert_eq!(code, 3);
    assert!(
        stderr.contains("no/such/folder: not a folder; the manual pages need an existing folder"),
        "{stderr}"
    );
}
