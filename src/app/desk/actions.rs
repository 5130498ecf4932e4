//! What can be asked of the desk.

use std::sync::Arc;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{DefaultBodyLimit, Multipart, Path, Request, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, LOCATION};
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};

use super::fields::Fields;
use super::guard::{guard, plain};
use super::session::{MAX_PROFILE, Session};
use super::{Desk, page, view};
use crate::issue::folder;
use crate::issue::outputs::SHEET;
use crate::issue::outputs::{Content, Output};

/// The longest form that is taken, octets.
const MAX_FORM: usize = 256 << 10;

/// The longest upload: the profile and what stands around it.
const MAX_UPLOAD: usize = MAX_PROFILE + (64 << 10);

const SCRIPT: &str = include_str!("page.js");
const STYLE: &str = include_str!("page.css");

type Shared = State<Arc<Desk>>;

/// Every request there is, behind the guard.
pub(super) fn router(desk: Arc<Desk>) -> Router {
    let upload = post(upload).layer(DefaultBodyLimit::max(MAX_UPLOAD));
    Router::new()
        .route("/", get(whole))
        .route("/page.js", get(script))
        .route("/page.css", get(style))
        .route("/sheet.toml", get(sheet))
        .route("/issued/{number}", get(issued))
        .route("/profile", upload)
        .route("/do/{action}", post(act))
        .fallback(nothing)
        .with_state(desk.clone())
        .layer(from_fn_with_state(desk, guard))
}

async fn nothing() -> Response {
    plain(StatusCode::NOT_FOUND, "there is no such page")
}

fn typed(kind: &'static str, text: impl Into<Body>) -> Response {
    ([(CONTENT_TYPE, kind)], text.into()).into_response()
}

async fn script() -> Response {
    typed("text/javascript; charset=utf-8", SCRIPT)
}

async fn style() -> Response {
    let all = format!("{STYLE}{}", page::picture_style());
    typed("text/css; charset=utf-8", all)
}

fn shown(session: &mut Session) -> Response {
    session.list_files();
    session.list_issued();
    session.revise();
    let view = view::view(session);
    let page = page::page(&view, session);
    session.notice = None;
    typed("text/html; charset=utf-8", page.into_string())
}

async fn whole(State(desk): Shared) -> Response {
    let mut session = desk.session();
    shown(&mut session)
}

/// The sheet as it stands, to keep.
async fn sheet(State(desk): Shared) -> Response {
    let text = desk.session().sheet_text();
    let headers = [
        (CONTENT_TYPE, "application/toml; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{SHEET}\""),
        ),
    ];
    (headers, text).into_response()
}

/// The text of an issue, by its number in the list shown.
async fn issued(State(desk): Shared, Path(number): Path<String>) -> Response {
    let session = desk.session();
    let Some(name) = session.issue_of(&number) else {
        return plain(StatusCode::NOT_FOUND, "there is no such issue in the list");
    };
    let readable = Output::issued().filter(|output| output.content() == Content::Parts);
    for file in readable.filter_map(Output::file) {
        match folder::file(&session.setup.out, name, file) {
            Ok(Some(octets)) => return typed("text/plain; charset=utf-8", octets),
            Ok(None) => {}
            Err(error) => return plain(StatusCode::INTERNAL_SERVER_ERROR, &error.to_string()),
        }
    }
    plain(StatusCode::NOT_FOUND, "the issue has no text")
}

/// After a change the page is asked for anew, so that reloading it changes nothing.
fn back() -> Response {
    (StatusCode::SEE_OTHER, [(LOCATION, "/")]).into_response()
}

/// Takes a profile.
async fn upload(
    State(desk): Shared,
    parts: Result<Multipart, axum::extract::multipart::MultipartRejection>,
) -> Response {
    let mut parts = match parts {
        Ok(parts) => parts,
        Err(refused) => return plain(refused.status(), &refused.body_text()),
    };
    loop {
        let field = match parts.next_field().await {
            Ok(Some(field)) => field,
            Ok(None) => break,
            Err(error) => return plain(error.status(), &error.body_text()),
        };
        if field.name() != Some("profile") {
            continue;
        }
        let name = field.file_name().unwrap_or_default().to_owned();
        let bytes = match field.bytes().await {
            Ok(bytes) => bytes,
            Err(error) => return plain(error.status(), &error.body_text()),
        };
        let mut session = desk.session();
        if bytes.len() > MAX_PROFILE {
            let text = format!("the profile has more than {MAX_PROFILE} octets");
            return plain(StatusCode::PAYLOAD_TOO_LARGE, &text);
        }
        if bytes.is_empty() {
            session.refused("no profile: choose a file first");
        } else {
            session.load(&name, bytes.to_vec());
        }
        return back();
    }
    plain(StatusCode::BAD_REQUEST, "the form has no field `profile`")
}

/// Takes what stands in the fields, then does what a button says.
async fn act(State(desk): Shared, Path(action): Path<String>, request: Request) -> Response {
    let live = live(request.headers());
    let body = to_bytes(request.into_body(), MAX_FORM).await;
    let Ok(body) = body else {
        let text = format!("the form has more than {MAX_FORM} octets");
        return plain(StatusCode::PAYLOAD_TOO_LARGE, &text);
    };
    let fields = match Fields::parse(&body) {
        Ok(fields) => fields,
        Err(why) => return plain(StatusCode::BAD_REQUEST, &why),
    };
    let mut session = desk.session();
    let taken = session.apply(&fields);
    match action.as_str() {
        // What the operator sees of the conflict comes first.
        _ if !taken => {}
        "show" => {}
        "file" => session.load_file(fields.get("number")),
        "level" | "withhold" => session.order(&action, &fields),
        "back" => session.take_back(&fields),
        "pick" => session.pick = fields.get("pick").to_owned(),
        "undo" => session.undo(),
        "anew" => session.anew(),
        "issue" => session.issue(&fields),
        "nil" => session.nil(&fields),
        "reopen" => session.reopen(fields.get("number")),
        _ => return plain(StatusCode::NOT_FOUND, "there is no such action"),
    }
    if live { shown(&mut session) } else { back() }
}

/// Whether our own script asks, which takes the page from the answer.
fn live(headers: &HeaderMap) -> bool {
    headers.contains_key("x-live")
}
