//! Where products go: standard output, files, links, devices, named pipes.
#![cfg(unix)]

use std::fs::{self, OpenOptions};
use std::os::unix::fs::{FileTypeExt as _, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The command beside the invented samples.
fn fivefig(folder: &Path, args: &[&str]) -> Command {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let mut command = Command::new(env!("CARGO_BIN_EXE_fivefig"));
    command.current_dir(folder);
    command.args(args.iter().map(|arg| match arg.strip_prefix("samples/") {
        Some(name) => samples.join(name),
        None => PathBuf::from(arg),
    }));
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

const ENCODE: [&str; 5] = [
    "encode",
    "samples/winter_jet.csv",
    "--sheet",
    "samples/winter_jet.toml",
    "-q",
];

/// Encodes to a path: exit code, standard output, standard error.
fn encode(folder: &Path, to: &str) -> (i32, String, String) {
    let out = fivefig(folder, &[&ENCODE[..], &["-o", to]].concat())
        .output()
        .unwrap();
    (
        out.status.code().unwrap(),
        String::from_utf8(out.stdout).unwrap(),
        String::from_utf8(out.stderr).unwrap(),
    )
}

fn message(folder: &Path) -> String {
    let (code, text, stderr) = encode(folder, "-");
    assert_eq!(code, 0, "{stderr}");
    assert!(text.starts_with("TTAA 15111"), "{text}");
    text
}

/// The names in a folder: nothing hidden is left behind.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_device_is_written_and_stays() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, stderr) = encode(folder.path(), "/dev/null");
    assert_eq!((code, out.as_str()), (0, ""), "{stderr}");
    let null = fs::symlink_metadata("/dev/null").unwrap();
    assert!(null.file_type().is_char_device());
    let (code, _, stderr) = encode(folder.path(), "/dev/full");
    assert_eq!(code, 3);
    assert!(stderr.contains("/dev/full: No space left"), "{stderr}");
}

#[test]
fn the_names_of_standard_output_are_standard_output() {
    let folder = tempfile::tempdir().unwrap();
    let text = message(folder.path());
    for to in ["/dev/stdout", "/dev/fd/1", "/proc/self/fd/1"] {
        // Into a pipe, and behind what stands in a file already.
        assert_eq!(encode(folder.path(), to), (0, text.clone(), String::new()));
        let path = folder.path().join("out");
        fs::write(&path, "before\n").unwrap();
        let file = OpenOptions::new().append(true).open(&path).unwrap();
        let args = [&ENCODE[..], &["-o", to]].concat();
        let status = fivefig(folder.path(), &args).stdout(file).status();
        assert!(status.unwrap().success());
        assert_eq!(
            fs::read_to_string(&path).unwrap(),
            format!("before\n{text}")
        );
    }
    // So is a link to it.
    symlink("/dev/stdout", folder.path().join("link")).unwrap();
    assert_eq!(
        encode(folder.path(), "link"),
        (0, text.clone(), String::new())
    );
    let (code, out, stderr) = encode(folder.path(), "/dev/stderr");
    assert_eq!((code, out.as_str(), stderr), (0, "", text));
}

#[test]
fn a_named_pipe_is_written_and_stays() {
    let folder = tempfile::tempdir().unwrap();
    let text = message(folder.path());
    let pipe = folder.path().join("pipe");
    assert!(
        Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let reader = {
        let pipe = pipe.clone();
        std::thread::spawn(move || fs::read_to_string(pipe).unwrap())
    };
    let (code, _, stderr) = encode(folder.path(), "pipe");
    assert_eq!(code, 0, "{stderr}");
    assert_eq!(reader.join().unwrap(), text);
    assert!(fs::symlink_metadata(&pipe).unwrap().file_type().is_fifo());
    assert_eq!(names(folder.path()), ["pipe"]);
}

#[test]
fn the_target_of_a_link_is_replaced_and_not_the_link() {
    let folder = tempfile::tempdir().unwrap();
    let text = message(folder.path());
    let at = |name: &str| folder.path().join(name);
    fs::create_dir_all(at("far/inner")).unwrap();
    fs::write(at("far/there"), "old").unwrap();
    // To a file in another folder, from a link to a link, to one that is not there yet.
    symlink("far/there", at("link")).unwrap();
    symlink("../link", at("far/again")).unwrap();
    symlink("far/inner/none", at("dangling")).unwrap();
    for (link, target) in [
        ("link", "far/there"),
        ("far/again", "far/there"),
        ("dangling", "far/inner/none"),
    ] {
        fs::write(at("far/there"), "old").unwrap();
        let (code, _, stderr) = encode(folder.path(), link);
        assert_eq!(code, 0, "{link}: {stderr}");
        assert!(
            fs::symlink_metadata(at(link)).unwrap().is_symlink(),
            "{link}"
        );
        let found = fs::symlink_metadata(at(target)).unwrap();
        assert!(found.is_file(), "{target}");
        assert_eq!(fs::read_to_string(at(target)).unwrap(), text, "{link}");
    }
    // What fails leaves link and target as they were.
    fs::write(at("far/there"), "old").unwrap();
    let args = ["encode", "none.csv", "-o", "link"];
    assert_eq!(
        fivefig(folder.path(), &args).status().unwrap().code(),
        Some(3)
    );
    assert_eq!(fs::read_to_string(at("far/there")).unwrap(), "old");
    assert_eq!(names(folder.path()), ["dangling", "far", "link"]);
    assert_eq!(names(&at("far")), ["again", "inner", "there"]);
    // A link to a folder that is not there, and links in a circle.
    symlink("none/file", at("nowhere")).unwrap();
    symlink("circle", at("circle")).unwrap();
    for link in ["nowhere", "circle"] {
        let (code, _, stderr) = encode(folder.path(), link);
        assert_eq!(code, 3, "{link}: {stderr}");
        assert!(stderr.contains(link), "{stderr}");
    }
}

#[test]
fn a_folder_is_no_place_for_one_product() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("there")).unwrap();
    symlink("there", folder.path().join("link")).unwrap();
    for to in ["there", "link"] {
        let args = ["schema", "sheet"];
        assert!(fivefig(folder.path(), &args).status().unwrap().success());
        let args = ["decode", "m.txt", "-o", to];
        fs::write(folder.path().join("m.txt"), message(folder.path())).unwrap();
        let out = fivefig(folder.path(), &args).output().unwrap();
        let stderr = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(3), "{stderr}");
        assert!(
            stderr.contains(&format!("{to}: it is a folder; name a file in it")),
            "{stderr}"
        );
    }
    assert!(names(&folder.path().join("there")).is_empty());
}

/// Every command: what cannot be written to standard output is exit code 3, and a pipe
/// whose reader is gone ends quietly.
#[test]
fn standard_output_that_cannot_be_written_is_an_error() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let text = message(folder.path());
    fs::write(at("m.txt"), &text).unwrap();
    // 850 hPa at 1921 gpm in place of 1421: not in balance with the temperature.
    let wrong = text.replacen("85421 01756", "85921 01756", 1);
    assert_ne!(wrong, text);
    fs::write(at("wrong.txt"), wrong).unwrap();
    fs::create_dir(at("many")).unwrap();
    for ending in ["csv", "toml"] {
        let from = format!("samples/winter_jet.{ending}");
        fs::copy(&from, at(&format!("many/a.{ending}"))).unwrap();
    }
    let sheet = "samples/winter_jet.toml";
    let csv = "samples/winter_jet.csv";
    let commands: &[&[&str]] = &[
        &["--help"],
        &["--version"],
        &["check", "--help"],
        &["schema", "sheet"],
        &["generate", "bash"],
        &ENCODE,
        &["encode", "many", "--to", "jsonl", "-q"],
        &["encode", "many", "--to", "text,json", "-o", "issues", "-q"],
        &[
            "encode",
            csv,
            "--sheet",
            sheet,
            "--to",
            "text,json",
            "-o",
            "one",
            "-q",
        ],
        &["nil", "--sheet", sheet],
        &["levels", csv, "--sheet", sheet, "-q"],
        &["draw", csv, "--sheet", sheet],
        &["decode", "m.txt"],
        &["check", "wrong.txt"],
        &["check", csv, "--sheet", sheet, "-q"],
        &["compare", "m.txt", "wrong.txt"],
        &["columns", csv],
        &["profile", csv, "--sheet", sheet],
    ];
    for args in commands {
        let plain = fivefig(folder.path(), args).output().unwrap();
        let stderr = String::from_utf8_lossy(&plain.stderr).into_owned();
        assert!(
            !plain.stdout.is_empty(),
            "{args:?} writes nothing: {stderr}"
        );
        for name in ["issues", "one"] {
            let _ = fs::remove_dir_all(at(name));
        }
        let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
        let out = fivefig(folder.path(), args).stdout(full).output().unwrap();
        let stderr = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(3), "{args:?}: {stderr}");
        assert!(stderr.contains("-: No space left"), "{args:?}: {stderr}");
        for name in ["issues", "one"] {
            let _ = fs::remove_dir_all(at(name));
        }
        // The reader of the pipe is gone before anything is written.
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let out = fivefig(folder.path(), args)
            .stdout(writer)
            .output()
            .unwrap();
        let said_of_pipe = String::from_utf8(out.stderr).unwrap();
        assert_eq!(
            out.status.code(),
            plain.status.code(),
            "{args:?}: {said_of_pipe}"
        );
        assert!(!said_of_pipe.contains("ipe"), "{args:?}: {said_of_pipe}");
        for name in ["issues", "one"] {
            let _ = fs::remove_dir_all(at(name));
        }
    }
}
