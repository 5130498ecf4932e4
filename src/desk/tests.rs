use super::*;
use crate::product::issue::Output;
use axum::extract::State;

fn desk(diagram: Option<Draw>) -> (Arc<Desk>, tempfile::TempDir) {
    let out = tempfile::tempdir().unwrap();
    let sheet = std::fs::read_to_string("samples/winter_jet.toml").unwrap();
    let setup = Setup {
        sheets: vec![("s.toml".to_owned(), sheet)],
        out: out.path().to_owned(),
        watched: None,
        wanted: [Output::Text].into(),
        port: 0,
    };
    let desk = Desk {
        token: token().unwrap(),
        port: 1,
        diagram,
        session: Mutex::new(Session::new(setup, || 0).unwrap()),
    };
    (Arc::new(desk), out)
}

/// The picture has its place in the page when there is one, and a policy under which
/// it may style itself but run nothing.
#[test]
fn a_picture_has_its_place() {
    let (desk, _out) = desk(Some(|profile, report, _| {
        let (rows, levels) = (profile.rows.len(), report.levels.len());
        format!("<svg>{rows} rows, {levels} levels</svg>")
    }));
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    let ask = |desk: &Arc<Desk>| runtime.block_on(actions::diagram(State(desk.clone())));
    assert_eq!(ask(&desk).status(), 404);
    let rows = std::fs::read("samples/winter_jet.csv").unwrap();
    desk.session().load("p.csv", rows);
    let answer = ask(&desk);
    let header = |name: &str| answer.headers()[name].to_str().unwrap().to_owned();
    assert_eq!(header("content-type"), "image/svg+xml");
    assert!(header("content-security-policy").starts_with("default-src 'none'; style-src"));
    let body = axum::body::to_bytes(answer.into_body(), 1000);
    let body = runtime.block_on(body).unwrap();
    // The sample's 4,979 rows, the first taking the surface observation.
    assert!(body.starts_with(b"<svg>4979 rows, "), "{body:?}");
    let view = view::view(&desk.session());
    let with = page::page(&view, &desk.session(), true).into_string();
    let without = page::page(&view, &desk.session(), false).into_string();
    assert!(with.contains("<img src=\"/diagram.svg?of="));
    assert!(!without.contains("diagram.svg"));
}

#[test]
fn every_start_has_a_word_of_its_own() {
    let (one, other) = (token().unwrap(), token().unwrap());
    assert_ne!(one, other);
    for word in [one, other] {
        assert!(word.len() == 64 && word.bytes().all(|b| b.is_ascii_hexdigit()));
    }
}
