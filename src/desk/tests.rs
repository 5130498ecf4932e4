use super::*;
use crate::product::issue::Output;

fn session() -> (Session, tempfile::TempDir) {
    let out = tempfile::tempdir().unwrap();
    let sheet = std::fs::read_to_string("samples/winter_jet.toml").unwrap();
    let setup = Setup {
        sheets: vec![("s.toml".to_owned(), sheet)],
        out: out.path().to_owned(),
        watched: None,
        wanted: [Output::Text].into(),
        port: 0,
    };
    (Session::new(setup, || 0).unwrap(), out)
}

fn page_of(session: &Session) -> String {
    page::page(&view::view(session), session).into_string()
}

/// The picture stands in the page without a style of its own, which the policy would
/// refuse, and every row of the table has the number of a level in it.
#[test]
fn the_picture_has_its_place() {
    let (mut session, _out) = session();
    assert!(!page_of(&session).contains("<svg"));
    let rows = std::fs::read("samples/winter_jet.csv").unwrap();
    session.load("p.csv", rows);
    let page = page_of(&session);
    assert_eq!(page.matches("<svg ").count(), 1);
    assert!(!page.contains("<style") && !page.contains("style=\""));
    assert!(page::picture_style().starts_with(".aero "));
    let rows = page.matches("<tr data-level=").count();
    assert!(rows > 20, "{rows} levels");
    for i in 0..rows {
        assert!(page.contains(&format!("<tr data-level=\"{i}\"")), "row {i}");
        assert!(page.contains(&format!("<g id=\"level-{i}\"")), "level {i}");
    }
    assert!(!page.contains(&format!("id=\"level-{rows}\"")));
}

#[test]
fn every_start_has_a_word_of_its_own() {
    let (one, other) = (token().unwrap(), token().unwrap());
    assert_ne!(one, other);
    for word in [one, other] {
        assert!(word.len() == 64 && word.bytes().all(|b| b.is_ascii_hexdigit()));
    }
}
