//! The desk over a loopback socket: who is let in, what is refused, how it ends.
#![cfg(all(feature = "desk", unix))]

use crate::served;

use std::fs;
use std::net::TcpStream;
use std::process::Command;

use served::{Desk, entries, notice};

#[test]
fn only_the_page_of_this_start_is_let_in() {
    let desk = Desk::start(|sheet| sheet);
    let (host, cookie) = (desk.host(), desk.cookie());
    // Without the word, with another, with a cookie of another name.
    for (request, what) in [
        (format!("GET / HTTP/1.1\r\n{host}\r\n"), "no word"),
        (format!("GET /page.js HTTP/1.1\r\n{host}\r\n"), "no word"),
        (
            format!("GET /?token={} HTTP/1.1\r\n{host}\r\n", "0".repeat(64)),
            "another word",
        ),
        (format!("GET /?token= HTTP/1.1\r\n{host}\r\n"), "empty word"),
        (
            format!(
                "GET / HTTP/1.1\r\n{host}Cookie: desk-1={}\r\n\r\n",
                desk.token
            ),
            "another cookie",
        ),
        (
            format!(
                "GET / HTTP/1.1\r\n{host}Cookie: desk-{}={}\r\n\r\n",
                desk.port,
                &desk.token[..63]
            ),
            "a shorter word",
        ),
    ] {
        let answer = desk.raw(&request, b"");
        assert_eq!(answer.status, 403, "{what}");
        assert!(answer.body.contains("open the address"), "{what}");
        assert!(!answer.body.contains(&desk.token));
    }
    // With it: a cookie for this site alone, and the word leaves the address.
    let path = format!("/?token={}", desk.token);
    let answer = desk.raw(&format!("GET {path} HTTP/1.1\r\n{host}\r\n"), b"");
    assert_eq!(answer.status, 303);
    let set = format!(
        "set-cookie: desk-{}={}; path=/; httponly; samesite=strict",
        desk.port, desk.token
    );
    assert!(answer.head.contains(&set), "{}", answer.head);
    assert!(answer.head.contains("location: /\r\n"), "{}", answer.head);
    // Wrong hosts, as a name that is pointed at this machine would be.
    let port = desk.port;
    for bad in ["evil.example.org", "127.0.0.1", "127.0.0.1:1"] {
        let head = format!("GET / HTTP/1.1\r\nHost: {bad}\r\nConnection: close\r\n{cookie}\r\n");
        let answer = desk.raw(&head, b"");
        assert_eq!(answer.status, 403, "{bad}");
        assert!(answer.body.contains("wrong Host"), "{bad}");
    }
    let local =
        format!("GET / HTTP/1.1\r\nHost: localhost:{port}\r\nConnection: close\r\n{cookie}\r\n");
    assert_eq!(desk.raw(&local, b"").status, 200);
    // Wrong origins, and none where something would change.
    for origin in [
        "",
        "Origin: http://evil.example.org\r\n",
        "Origin: null\r\n",
    ] {
        let head =
            format!("POST /do/nil HTTP/1.1\r\n{host}{cookie}{origin}Content-Length: 0\r\n\r\n");
        let answer = desk.raw(&head, b"");
        assert_eq!(answer.status, 403, "{origin}");
        assert!(answer.body.contains("wrong Origin"), "{origin}");
    }
    assert_eq!(entries(&desk.path("out")), Vec::<String>::new());
    // What every answer says, refused ones too.
    let page = desk.get("/");
    for answer in [
        &page,
        &desk.get("/nothing"),
        &desk.raw(
            "GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n",
            b"",
        ),
    ] {
        for header in [
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
            "x-content-type-options: nosniff",
            "cache-control: no-store",
            "x-frame-options: deny",
        ] {
            assert!(answer.head.contains(header), "{header}: {}", answer.head);
        }
    }
    // The policy lets no inline script or style run; the page has none.
    assert!(!page.body.contains("<style") && !page.body.contains(" style="));
    assert_eq!(page.body.matches("<script").count(), 1);
    assert!(!page.body.contains(" onclick") && !page.body.contains(&desk.token));
}

#[test]
fn what_is_too_long_or_leads_elsewhere_is_refused() {
    let desk = Desk::start(|sheet| sheet);
    let form = "application/x-www-form-urlencoded";
    let long = "a=".to_owned() + &"x".repeat(300 << 10);
    let answer = desk.post_as("/do/show", form, long.as_bytes());
    assert_eq!(answer.status, 413, "{}", answer.body);
    let long = "station.name=".to_owned() + &"x".repeat(3000);
    let answer = desk.post_as("/do/show", form, long.as_bytes());
    assert_eq!(answer.status, 400);
    assert!(answer.body.contains("station.name: longer than"));
    // 64 MiB and one octet.
    let answer = desk.upload("big.csv", &vec![b'1'; (64 << 20) + 1]);
    assert_eq!(answer.status, 413, "{}", answer.body);
    assert!(desk.get("/").body.contains("None is loaded"));
    let answer = desk.post_as("/profile", form, b"profile=x");
    assert_eq!(answer.status, 400);
    for (path, status) in [
        ("/../secret.txt", 404),
        ("/..%2fsecret.txt", 404),
        ("/issued/..%2f..%2fsecret.txt", 404),
        ("/issued/0", 404),
        ("/issued/-1", 404),
        ("/do/show", 405),
    ] {
        let answer = desk.get(path);
        assert_eq!(answer.status, status, "{path}: {}", answer.body);
        assert!(!answer.body.contains("not for the page"), "{path}");
    }
    // A file is chosen by number alone; a link is not in the list.
    assert!(!desk.get("/").body.contains("link.csv"));
    for number in ["1", "-1", "../secret.txt", "", "99999999999999999999"] {
        let page = desk.press("file", &[("number", number)]);
        assert!(
            notice(&page).contains("no such file in the list"),
            "{number}"
        );
    }
    let page = desk.press("reopen", &[("number", "../../secret")]);
    assert!(notice(&page).contains("no such issue in the list"));
    let page = desk.press("file", &[("number", "0")]);
    assert!(notice(&page).contains("profile p.csv"), "{}", notice(&page));
    // The name of an upload is a word for people, never a path.
    let rows = fs::read(desk.path("p.csv")).unwrap();
    desk.upload("..\\\\..\\\\out/../../x<b>.csv", &rows);
    let page = desk.get("/").body;
    assert!(
        page.contains("<b>x&lt;b&gt;.csv</b>"),
        "not escaped, or a path"
    );
    assert_eq!(entries(&desk.path("out")), Vec::<String>::new());
}

#[test]
fn a_hostile_sheet_shows_as_text() {
    let evil = "<script>alert(1)</script>\\\"'&<img src=x onerror=alert(1)>";
    let desk = Desk::start(|sheet| sheet.replace("Hollow Down (invented)", evil));
    desk.load();
    let reason = "<script>alert(2)</script>";
    let order = [
        ("level.action", "drop"),
        ("level.pressure_hpa", "876.43"),
        ("level.reason", reason),
    ];
    let page = desk.press("level", &order);
    assert!(page.body.contains("&lt;script&gt;alert(1)"));
    assert!(page.body.contains("&lt;script&gt;alert(2)"));
    assert!(
        !page.body.contains("<script>alert"),
        "a script came through"
    );
    assert!(!page.body.contains("<img src=x"), "a tag came through");
    let page = desk.press("show", &[("surface.temperature_c", "<b>\"'")]);
    assert!(page.body.contains("value=\"&lt;b&gt;&quot;'\""));
    assert!(page.body.contains("a number is expected"));
    let page = desk.press("show", &[("flight.serial", "x"), ("nonsense.key", "x")]);
    assert!(!page.body.contains("nonsense"));
}

#[test]
fn it_ends_cleanly() {
    for signal in ["-TERM", "-INT"] {
        let mut desk = Desk::start(|sheet| sheet);
        let port = desk.port.to_string();
        let second = Command::new(env!("CARGO_BIN_EXE_fivefig"))
            .current_dir(desk.folder.path())
            .args([
                "desk",
                "--sheet",
                "start.toml",
                "--out",
                "out",
                "--port",
                &port,
            ])
            .output()
            .unwrap();
        assert_eq!(second.status.code(), Some(3));
        let stderr = String::from_utf8(second.stderr).unwrap();
        assert!(
            stderr.contains(&format!("cannot listen on 127.0.0.1:{port}")),
            "{stderr}"
        );
        // A connection that stays open does not hold it.
        let _open = TcpStream::connect(("127.0.0.1", desk.port)).unwrap();
        let killed = Command::new("kill")
            .args([signal, &desk.child.id().to_string()])
            .status()
            .unwrap();
        assert!(killed.success());
        assert_eq!(desk.child.wait().unwrap().code(), Some(0), "{signal}");
    }
}

#[test]
fn what_is_missing_at_the_start_is_said() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("bad.toml"), "[station]\nwmo_blok = 1\n").unwrap();
    let run = |args: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_fivefig"))
            .current_dir(folder.path())
            .arg("desk")
            .args(args)
            .output()
            .unwrap();
        let stderr = String::from_utf8(out.stderr).unwrap();
        (out.status.code().unwrap(), stderr)
    };
    let (code, stderr) = run(&["--sheet", "bad.toml", "--out", "out"]);
    assert!(
        code == 1 && stderr.contains("did you mean `wmo_block`?"),
        "{stderr}"
    );
    let (code, stderr) = run(&["--sheet", "none.toml", "--out", "out"]);
    assert!(code == 3 && stderr.contains("none.toml"), "{stderr}");
    fs::write(folder.path().join("good.toml"), "").unwrap();
    let (code, stderr) = run(&["--sheet", "good.toml", "--out", "good.toml"]);
    assert!(code == 3 && stderr.contains("good.toml"), "{stderr}");
    let (code, stderr) = run(&["--sheet", "good.toml", "--out", "out", "--in", "none"]);
    assert!(code == 3 && stderr.contains("none"), "{stderr}");
}

/// Two pages of one desk: what one has changed the other does not write back.
#[test]
fn two_pages_keep_what_each_has_changed() {
    let desk = Desk::start(|sheet| sheet);
    let both = desk.get("/");
    let revision = Desk::revision(&both);
    let post = |t: &str, nh: &str| {
        let fields = [("surface.temperature_c", t), ("clouds.nh", nh)];
        desk.press_on(revision, "show", &fields)
    };
    let sheet = || desk.get("/sheet.toml").body;
    // The sheet has 4.2 and 6.
    post("5.5", "6");
    post("4.2", "5");
    assert!(sheet().contains("temperature_c = 5.5\n") && sheet().contains("nh = 5\n"));
    let page = post("6.5", "6");
    assert!(
        notice(&page).contains("Surface observation: Temperature, °C: `6.5` was not taken, because another page has changed it to `5.5` meanwhile"),
        "{}",
        notice(&page)
    );
    assert!(sheet().contains("temperature_c = 5.5\n") && sheet().contains("nh = 5\n"));
    // Nothing is issued on such a page.
    desk.load();
    let page = desk.get("/").body;
    let shown = served::between(&page, "name=\"shown\" form=\"sheet\" value=\"", "\"");
    let fields = [
        ("surface.temperature_c", "6.5"),
        ("shown", shown),
        ("letter", ""),
    ];
    let page = desk.press_on(revision, "issue", &fields);
    assert!(notice(&page).contains("was not taken"), "{}", notice(&page));
    assert_eq!(entries(&desk.path("out")), Vec::<String>::new());
}
