//! Server-sent events (WHATWG HTML, 9.2): the number of the last change, to every page
//! that looks.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse as _, Response};
use hyper::body::Frame;
use tokio::sync::watch::Receiver;

/// The number that is sent when the desk ends.
pub(super) const END: u64 = u64::MAX;

/// How often a page hears that the desk is still there.
const BEAT: Duration = Duration::from_secs(10);

type Next = Pin<Box<dyn Future<Output = (Receiver<u64>, Option<String>)> + Send>>;

/// The events of one page, without end until the desk ends.
struct Events(Option<Next>);

/// The next event: a change, or a sign of life; `None` at the end.
async fn next(mut changes: Receiver<u64>) -> (Receiver<u64>, Option<String>) {
    let changed = tokio::time::timeout(BEAT, changes.changed()).await;
    let text = match changed {
        Err(_) => Some(":\n\n".to_owned()),
        Ok(Err(_)) => None,
        Ok(Ok(())) => event(*changes.borrow_and_update()),
    };
    (changes, text)
}

/// A change as an event.
fn event(change: u64) -> Option<String> {
    (change != END).then(|| format!("data: {change}\n\n"))
}

impl hyper::body::Body for Events {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        let Some(waiting) = &mut self.0 else {
            return Poll::Ready(None);
        };
        match waiting.as_mut().poll(context) {
            Poll::Pending => Poll::Pending,
            Poll::Ready((_, None)) => {
                self.0 = None;
                Poll::Ready(None)
            }
            Poll::Ready((changes, Some(text))) => {
                self.0 = Some(Box::pin(next(changes)));
                Poll::Ready(Some(Ok(Frame::data(Bytes::from(text)))))
            }
        }
    }
}

/// The stream of a page, which begins with how things stand.
pub(super) fn stream(mut changes: Receiver<u64>) -> Response {
    let first = event(*changes.borrow_and_update());
    let first: Next = Box::pin(async move { (changes, first) });
    let kind = [(CONTENT_TYPE, "text/event-stream")];
    (kind, Body::new(Events(Some(first)))).into_response()
}

#[cfg(test)]
mod tests {
    use tokio::sync::watch;

    use super::*;

    /// A page that looks late gets the last number alone, and the stream ends with the
    /// desk.
    #[test]
    fn a_page_hears_of_every_change_until_the_end() {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async {
            let (sender, receiver) = watch::channel(7);
            sender.send(8).unwrap();
            let response = stream(receiver);
            assert_eq!(response.headers()[CONTENT_TYPE], "text/event-stream");
            let read = tokio::spawn(axum::body::to_bytes(response.into_body(), 1000));
            for change in [9, 10] {
                tokio::task::yield_now().await;
                sender.send(change).unwrap();
            }
            tokio::task::yield_now().await;
            sender.send(END).unwrap();
            let text = read.await.unwrap().unwrap();
            assert_eq!(&text[..], b"data: 8\n\ndata: 9\n\ndata: 10\n\n");
        });
    }
}
