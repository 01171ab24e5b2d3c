//! `GET /v1/events/live`: hears that the log has grown, as server-sent events (the HTML standard,
//! 9.2). What is told is a size and its root, never a note: who wants to know more reads it.

use super::app::App;
use super::problem::Problem;
use crate::failure::{Broken, Failure, Question};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_core::Stream;
use selachron_schemas::encoding::base64;
use selachron_schemas::limits::{LIVE_AGAIN_MS, LIVE_QUIET_S, LIVE_STREAM_MAX_S};
use selachron_schemas::note::plain_number;
use selachron_schemas::time::Instant;
use serde::Serialize;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use utoipa::ToSchema;

/// The name of the events.
const GROWN: &str = "grown";

/// What is told when notes were published.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Grown {
    /// Seq of the newest note; also the event's id, to go on from.
    pub seq: u64,
    /// Number of notes.
    pub size: u64,
    /// Root over them, base64.
    pub root: String,
    /// When the newest was recorded.
    #[schema(value_type = String, format = DateTime)]
    pub recorded_at: Instant,
}

/// Whether the service is going down: streams would hold it up.
#[derive(Clone)]
pub struct Closing(Arc<watch::Sender<bool>>);

impl Default for Closing {
    fn default() -> Self {
        Self(Arc::new(watch::Sender::new(false)))
    }
}

impl Closing {
    /// Ends all streams.
    pub fn close(&self) {
        self.0.send_replace(true);
    }

    async fn closed(&self) {
        let mut closing = self.0.subscribe();
        let _ = closing.wait_for(|closing| *closing).await;
    }
}

/// The newest published size and its root.
fn newest(app: &App) -> Result<Grown, Failure> {
    let published = app.journal.published();
    let size = published.size();
    let missing = || Broken::new("a published log has a newest note and a root");
    let (seq, root) = (size.checked_sub(1).ok_or_else(missing)?, published.root(size).ok_or_else(missing)?);
    Ok(Grown { seq, size, root: base64(&root), recorded_at: published.newest().ok_or_else(missing)? })
}

/// Hears that the log has grown: one event at once, unless `Last-Event-ID` names the newest seq
/// already, then one whenever notes are published. It ends by itself after some minutes; come again.
#[utoipa::path(
    get, path = "/v1/events/live", tag = "events",
    params(("last-event-id" = Option<String>, Header, description = "Seq of the newest note that is known already")),
    responses(
        (status = 200, description = "Server-sent events named grown, whose data is this as JSON", body = Grown, content_type = "text/event-stream"),
        (status = "default", body = Problem, content_type = "application/problem+json"),
    )
)]
pub async fn live(State(app): State<App>, headers: HeaderMap) -> Result<Sse<impl Stream<Item = Result<Event, Infallible>>>, Failure> {
    let known = last_known(&headers)?;
    let (sender, events) = mpsc::channel(1);
    tokio::spawn(async move {
        let ended = tokio::time::sleep(Duration::from_secs(LIVE_STREAM_MAX_S));
        let closing = app.closing.clone();
        tokio::select! {
            () = tell(&app, known, &sender) => {},
            () = ended => {},
            () = closing.closed() => {},
            () = sender.closed() => {},
        }
    });
    Ok(Sse::new(Told(events)).keep_alive(KeepAlive::new().interval(Duration::from_secs(LIVE_QUIET_S))))
}

fn last_known(headers: &HeaderMap) -> Result<Option<u64>, Question> {
    let Some(value) = headers.get("last-event-id") else { return Ok(None) };
    let seq = value.to_str().ok().and_then(plain_number);
    seq.map(Some).ok_or_else(|| Question::bad("last-event-id", "it is not the id of an event of this stream; begin without one"))
}

/// Tells every size that is published and not known; two that come together are told as one.
async fn tell(app: &App, mut known: Option<u64>, sender: &mpsc::Sender<Event>) {
    // Subscribed before the first look, so that nothing falls in between.
    let mut grown = app.journal.grown();
    loop {
        let Ok(now) = newest(app) else { return };
        if known != Some(now.seq) {
            known = Some(now.seq);
            let event = Event::default().event(GROWN).id(now.seq.to_string()).retry(Duration::from_millis(LIVE_AGAIN_MS));
            let Ok(event) = event.json_data(&now) else { return };
            if sender.send(event).await.is_err() {
                return;
            }
        }
        if grown.changed().await.is_err() {
            return;
        }
    }
}

struct Told(mpsc::Receiver<Event>);

impl Stream for Told {
    type Item = Result<Event, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        self.0.poll_recv(context).map(|event| event.map(Ok))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_known_is_a_seq_or_nothing() {
        let with = |value: &str| {
            let mut headers = HeaderMap::new();
            headers.insert("last-event-id", value.parse().unwrap());
            last_known(&headers)
        };
        assert_eq!(last_known(&HeaderMap::new()), Ok(None));
        assert_eq!(with("0"), Ok(Some(0)));
        assert_eq!(with("41"), Ok(Some(41)));
        for wrong in ["", "01", "-1", "x", "1.5"] {
            assert!(with(wrong).is_err(), "{wrong}");
        }
    }
}
