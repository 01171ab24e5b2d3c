//! The socket: bound before anything says that it listens, closed after requests under way have
//! been answered.

use super::door::{Door, Peer};
use crate::failure::{Failure, Setup, io};
use axum::Router;
use selachron_schemas::limits::SHUTDOWN_GRACE_S;
use std::io::ErrorKind;
use std::net::SocketAddr;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::oneshot;

/// Takes the address.
///
/// # Errors
/// It is in use, or not ours to take.
pub async fn bind(listen: SocketAddr) -> Result<(TcpListener, SocketAddr), Failure> {
    let taken = TcpListener::bind(listen).await.map_err(|error| match error.kind() {
        ErrorKind::AddrInUse => Setup::Refused(format!("{listen} is in use by another program; choose another with --listen")).into(),
        _ => io(format!("listening on {listen}"), &error),
    })?;
    let addr = taken.local_addr().map_err(|error| io("reading the address", &error))?;
    Ok((taken, addr))
}

/// Serves until `stop` is there, then lets requests under way finish, but not for ever.
///
/// # Errors
/// The socket fails.
pub async fn serve(door: Door, router: Router, stop: impl Future<Output = ()> + Send + 'static) -> Result<(), Failure> {
    let (stopping, stopped) = oneshot::channel();
    let serving = axum::serve(door, router.into_make_service_with_connect_info::<Peer>()).with_graceful_shutdown(async move {
        stop.await;
        let _ = stopping.send(());
    });
    let grace = async move {
        let _ = stopped.await;
        tokio::time::sleep(Duration::from_secs(SHUTDOWN_GRACE_S)).await;
    };
    tokio::select! {
        outcome = std::future::IntoFuture::into_future(serving) => outcome.map_err(|error| io("serving", &error)),
        () = grace => Ok(()),
    }
}
