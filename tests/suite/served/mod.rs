//! A desk that runs as its own process, and a browser's part of talking to it.
#![allow(dead_code, reason = "each test takes what it needs")]

use std::cell::RefCell;
use std::fs;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

pub const NAME: &str = "0-20000-0-99011_202101151200_temp";

/// A desk that runs as its own process.
pub struct Desk {
    pub child: Child,
    pub port: u16,
    pub token: String,
    pub folder: tempfile::TempDir,
    /// The revision of the last page.
    last: RefCell<String>,
}

/// An answer: status, head and body.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Desk {
    /// A desk with the invented sheet, more text at its end, and a watched folder.
    pub fn start(change: impl Fn(String) -> String) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
        // The flight is in the past: a release in the future is not issued.
        let sheet = sheet.replace("2031-", "2021-");
        fs::write(at("start.toml"), change(sheet)).unwrap();
        fs::copy("samples/winter_jet.csv", at("p.csv")).unwrap();
        fs::create_dir(at("in")).unwrap();
        fs::copy("samples/winter_jet.csv", at("in").join("p.csv")).unwrap();
        fs::write(at("secret.txt"), "not for the page").unwrap();
        std::os::unix::fs::symlink(at("secret.txt"), at("in").join("link.csv")).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_fivefig"))
            .current_dir(folder.path())
            .args([
                "desk",
                "--sheet",
                "start.toml",
                "--to",
                "text,bulletin,json,bufr,html",
                "--out",
                "out",
                "--in",
                "in",
            ])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        out.read_line(&mut line).unwrap();
        let rest = line.trim().strip_prefix("http://127.0.0.1:").unwrap();
        let (port, token) = rest.split_once("/?token=").unwrap();
        assert_eq!(token.len(), 64, "{line}");
        Self {
            port: port.parse().unwrap(),
            token: token.to_owned(),
            child,
            folder,
            last: RefCell::default(),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// A request as it goes over the wire.
    pub fn raw(&self, head: &str, body: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.write_all(head.as_bytes()).unwrap();
        // What is refused early may not be read to its end.
        let _ = stream.write_all(body);
        let mut octets = Vec::new();
        let _ = stream.read_to_end(&mut octets);
        let text = String::from_utf8_lossy(&octets).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok());
        Answer {
            status: status.unwrap_or(0),
            head: head.to_lowercase(),
            body: body.to_owned(),
        }
    }

    pub fn cookie(&self) -> String {
        format!("Cookie: desk-{}={}\r\n", self.port, self.token)
    }

    pub fn host(&self) -> String {
        format!("Host: 127.0.0.1:{}\r\nConnection: close\r\n", self.port)
    }

    pub fn get(&self, path: &str) -> Answer {
        let (host, cookie) = (self.host(), self.cookie());
        let page = self.raw(&format!("GET {path} HTTP/1.1\r\n{host}{cookie}\r\n"), b"");
        if path == "/" {
            Self::revision(&page).clone_into(&mut self.last.borrow_mut());
        }
        page
    }

    pub fn post_as(&self, path: &str, kind: &str, body: &[u8]) -> Answer {
        let (host, cookie) = (self.host(), self.cookie());
        let origin = format!("Origin: http://127.0.0.1:{}\r\n", self.port);
        let head = format!(
            "POST {path} HTTP/1.1\r\n{host}{cookie}{origin}Content-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
            body.len()
        );
        self.raw(&head, body)
    }

    /// The revision that a page shows.
    pub fn revision(page: &Answer) -> &str {
        between(
            &page.body,
            "name=\"revision\" form=\"sheet\" value=\"",
            "\"",
        )
    }

    /// Presses a button on the last page, with fields; the page that comes of it.
    pub fn press(&self, action: &str, fields: &[(&str, &str)]) -> Answer {
        if self.last.borrow().is_empty() {
            self.get("/");
        }
        let revision = self.last.borrow().clone();
        self.press_on(&revision, action, fields)
    }

    /// Presses a button on a page of that revision.
    pub fn press_on(&self, revision: &str, action: &str, fields: &[(&str, &str)]) -> Answer {
        let fields = [&[("revision", revision)], fields].concat();
        let pairs: Vec<String> = fields
            .iter()
            .map(|(name, value)| format!("{name}={}", encoded(value)))
            .collect();
        let kind = "application/x-www-form-urlencoded";
        let path = format!("/do/{action}");
        let answer = self.post_as(&path, kind, pairs.join("&").as_bytes());
        assert_eq!(answer.status, 303, "{action}: {}", answer.body);
        assert!(answer.head.contains("location: /"), "{}", answer.head);
        self.get("/")
    }

    pub fn upload(&self, name: &str, bytes: &[u8]) -> Answer {
        let mut body = format!(
            "--x\r\nContent-Disposition: form-data; name=\"profile\"; filename=\"{name}\"\r\n\r\n"
        )
        .into_bytes();
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n--x--\r\n");
        self.post_as("/profile", "multipart/form-data; boundary=x", &body)
    }

    pub fn load(&self) {
        let rows = fs::read(self.path("p.csv")).unwrap();
        assert_eq!(self.upload("p.csv", &rows).status, 303);
    }

    /// Issues what the page shows.
    pub fn issue(&self, action: &str) -> Answer {
        self.issue_with(action, &[])
    }

    /// The same with more fields.
    pub fn issue_with(&self, action: &str, more: &[(&str, &str)]) -> Answer {
        let page = self.get("/").body;
        let shown = between(&page, "name=\"shown\" form=\"sheet\" value=\"", "\"");
        let letter = "name=\"letter\" form=\"sheet\" value=\"";
        let letter = if page.contains(letter) {
            between(&page, letter, "\"")
        } else {
            ""
        };
        let fields = [&[("shown", shown), ("letter", letter)], more].concat();
        self.press(action, &fields)
    }

    /// Runs the command beside the desk.
    pub fn command(&self, args: &[&str]) -> Vec<u8> {
        let out = Command::new(env!("CARGO_BIN_EXE_fivefig"))
            .current_dir(self.folder.path())
            .args(args)
            .output()
            .unwrap();
        let stderr = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(out.status.success(), "{args:?}: {stderr}");
        out.stdout
    }

    /// Holds every file of an issue against what the command makes of its sheet.
    pub fn held(&self, name: &str, first: &[&str], more: impl Fn(&str) -> Vec<String>) {
        let folder = self.path("out").join(name);
        fs::copy(folder.join("sheet.toml"), self.path("sheet.toml")).unwrap();
        for (form, file) in [
            ("text", "text.txt"),
            ("bulletin", "bulletin.txt"),
            ("json", "report.json"),
            ("bufr", "sounding.bufr"),
            ("html", "review.html"),
        ] {
            let more = more(form);
            if form == "html" && (first.contains(&"nil") || !more.is_empty()) {
                // No flight to look at; and of a correction a sheet beside an issue
                // shows what changed, which alone takes no letter.
                continue;
            }
            let more: Vec<&str> = more.iter().map(String::as_str).collect();
            let args = [first, &["--sheet", "sheet.toml", "--to", form], &more].concat();
            let octets = self.command(&args);
            assert_eq!(fs::read(folder.join(file)).unwrap(), octets, "{form}");
        }
    }
}

fn encoded(text: &str) -> String {
    let one = |b: u8| {
        if b.is_ascii_alphanumeric() {
            char::from(b).to_string()
        } else {
            format!("%{b:02X}")
        }
    };
    text.bytes().map(one).collect()
}

pub fn between<'a>(text: &'a str, from: &str, to: &str) -> &'a str {
    let rest = text.split_once(from);
    let rest = rest.unwrap_or_else(|| panic!("{from} is not in {text}")).1;
    rest.split_once(to).unwrap().0
}

/// The notice of a page, without its tags.
pub fn notice(page: &Answer) -> String {
    text(between(&page.body, "id=\"notice\"", "</div>"))
}

/// Markup without its tags, from the middle of one.
pub fn text(inside: &str) -> String {
    let mut out = String::new();
    let mut inside_tag = true;
    for c in inside.chars() {
        match c {
            '<' => inside_tag = true,
            '>' => inside_tag = false,
            c if !inside_tag => out.push(c),
            _ => {}
        }
    }
    out
}

pub fn entries(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    // The folder of the desk itself is hidden.
    names.retain(|name| !name.starts_with('.'));
    names.sort();
    names
}
