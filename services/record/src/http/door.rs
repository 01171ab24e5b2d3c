//! The door: connections are counted, TLS is spoken, and one on which nothing moves is closed.
//! A handshake never holds up the next guest.

use crate::config::Network;
use crate::failure::Failure;
use axum::extract::connect_info::Connected;
use axum::serve::{IncomingStream, Listener};
use selachron_schemas::limits::{
    CONNECTION_IDLE_S, CONNECTIONS_MAX, CONNECTIONS_READY_MAX, PEER_CONNECTIONS_MAX, QUERY_BYTES_MAX, RETRY_AFTER_S, TLS_HANDSHAKE_S,
};
use std::collections::HashMap;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc};
use tokio::task::JoinHandle;
use tokio::time::{Sleep, sleep, timeout};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;

/// The other end of a connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Peer(pub SocketAddr);

impl Connected<IncomingStream<'_, Door>> for Peer {
    fn connect_info(stream: IncomingStream<'_, Door>) -> Self {
        *stream.remote_addr()
    }
}

/// A listener that hands out connections ready to be spoken over.
pub struct Door {
    ready: mpsc::Receiver<(Guest, Peer)>,
    addr: SocketAddr,
    receiving: JoinHandle<()>,
}

impl Door {
    /// Opens the door over a bound socket.
    ///
    /// # Errors
    /// The certificate cannot be used.
    pub fn open(listener: TcpListener, addr: SocketAddr, network: &Network) -> Result<Self, Failure> {
        let acceptor = network.tls.as_ref().map(crate::tls::TlsFiles::acceptor).transpose()?;
        // Behind a proxy all come from one address, and on loopback all are this machine.
        let per_peer = !network.behind_proxy && !addr.ip().is_loopback();
        let places = Arc::new(Places::new(CONNECTIONS_MAX, per_peer.then_some(PEER_CONNECTIONS_MAX)));
        let (sender, ready) = mpsc::channel(CONNECTIONS_READY_MAX);
        let receiving = tokio::spawn(receive(listener, places, acceptor, sender));
        Ok(Self { ready, addr, receiving })
    }
}

impl Listener for Door {
    type Io = Guest;
    type Addr = Peer;

    async fn accept(&mut self) -> (Guest, Peer) {
        match self.ready.recv().await {
            Some(guest) => guest,
            // Nobody receives any more: the service is going down.
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> io::Result<Peer> {
        Ok(Peer(self.addr))
    }
}

impl Drop for Door {
    fn drop(&mut self) {
        self.receiving.abort();
    }
}

async fn receive(listener: TcpListener, places: Arc<Places>, acceptor: Option<TlsAcceptor>, ready: mpsc::Sender<(Guest, Peer)>) {
    loop {
        let Ok(room) = places.room.clone().acquire_owned().await else { return };
        match listener.accept().await {
            Ok((stream, addr)) => {
                let Some(place) = places.take(addr.ip(), room) else { continue };
                let (acceptor, ready) = (acceptor.clone(), ready.clone());
                tokio::spawn(async move {
                    if let Some(stream) = welcome(stream, acceptor).await {
                        let _ = ready.send((Guest::new(stream, place, Duration::from_secs(CONNECTION_IDLE_S)), Peer(addr))).await;
                    }
                });
            }
            // Too many open files, say: it passes when connections end.
            Err(error) => {
                tracing::warn!(%error, "a connection could not be taken");
                sleep(Duration::from_secs(RETRY_AFTER_S)).await;
            }
        }
    }
}

async fn welcome(stream: TcpStream, acceptor: Option<TlsAcceptor>) -> Option<Stream> {
    let _ = stream.set_nodelay(true);
    let Some(acceptor) = acceptor else { return Some(Stream::Plain(stream)) };
    match timeout(Duration::from_secs(TLS_HANDSHAKE_S), handshake(stream, acceptor)).await {
        Ok(Ok(stream)) => stream.map(|stream| Stream::Tls(Box::new(stream))),
        Ok(Err(error)) => {
            tracing::debug!(%error, "no TLS connection came about");
            None
        }
        Err(_) => None,
    }
}

/// First byte of every TLS connection: a record of type handshake (RFC 8446 5.1).
const HANDSHAKE: u8 = 0x16;

async fn handshake(mut stream: TcpStream, acceptor: TlsAcceptor) -> io::Result<Option<TlsStream<TcpStream>>> {
    let mut first = [0; 1];
    if stream.peek(&mut first).await? == 0 || first[0] == HANDSHAKE {
        return acceptor.accept(stream).await.map(Some);
    }
    // Somebody speaks plain HTTP: a closed connection would not tell them what to do.
    let mut request = vec![0; QUERY_BYTES_MAX];
    let _ = stream.read(&mut request).await?;
    stream.write_all(super::problem::plain_to_tls().as_bytes()).await?;
    stream.shutdown().await?;
    Ok(None)
}

/// Room for connections, in all and from each address.
struct Places {
    room: Arc<Semaphore>,
    per_peer: Option<usize>,
    held: Mutex<HashMap<IpAddr, usize>>,
}

impl Places {
    fn new(all: usize, per_peer: Option<usize>) -> Self {
        Self { room: Arc::new(Semaphore::new(all)), per_peer, held: Mutex::default() }
    }

    /// A place for a connection from `peer`, if it has not too many already.
    fn take(self: &Arc<Self>, peer: IpAddr, room: OwnedSemaphorePermit) -> Option<Place> {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let count = held.entry(peer).or_default();
        if self.per_peer.is_some_and(|most| *count >= most) {
            return None;
        }
        *count += 1;
        Some(Place { places: self.clone(), peer, _room: room })
    }
}

/// One place; let go when the connection is.
struct Place {
    places: Arc<Places>,
    peer: IpAddr,
    _room: OwnedSemaphorePermit,
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut held = self.places.held.lock().unwrap_or_else(PoisonError::into_inner);
        match held.get_mut(&self.peer) {
            Some(count) if *count > 1 => *count -= 1,
            _ => drop(held.remove(&self.peer)),
        }
    }
}

enum Stream {
    Plain(TcpStream),
    Tls(Box<TlsStream<TcpStream>>),
}

/// A connection that is in.
pub struct Guest {
    stream: Stream,
    idle: Pin<Box<Sleep>>,
    idle_for: Duration,
    moved: bool,
    _place: Place,
}

impl Guest {
    fn new(stream: Stream, place: Place, idle_for: Duration) -> Self {
        Self { stream, idle: Box::pin(sleep(idle_for)), idle_for, moved: false, _place: place }
    }

    /// Notices movement, and ends a connection on which there was none for a whole period.
    fn watched<T>(&mut self, context: &mut Context<'_>, polled: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        if polled.is_ready() {
            self.moved = true;
            return polled;
        }
        while self.idle.as_mut().poll(context).is_ready() {
            if !std::mem::take(&mut self.moved) {
                return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
            }
            self.idle.set(sleep(self.idle_for));
        }
        Poll::Pending
    }
}

impl AsyncRead for Guest {
    fn poll_read(mut self: Pin<&mut Self>, context: &mut Context<'_>, buffer: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let polled = match &mut self.stream {
            Stream::Plain(stream) => Pin::new(stream).poll_read(context, buffer),
            Stream::Tls(stream) => Pin::new(stream).poll_read(context, buffer),
        };
        self.watched(context, polled)
    }
}

impl AsyncWrite for Guest {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let polled = match &mut self.stream {
            Stream::Plain(stream) => Pin::new(stream).poll_write(context, bytes),
            Stream::Tls(stream) => Pin::new(stream).poll_write(context, bytes),
        };
        self.watched(context, polled)
    }

    fn poll_write_vectored(mut self: Pin<&mut Self>, context: &mut Context<'_>, slices: &[io::IoSlice<'_>]) -> Poll<io::Result<usize>> {
        let polled = match &mut self.stream {
            Stream::Plain(stream) => Pin::new(stream).poll_write_vectored(context, slices),
            Stream::Tls(stream) => Pin::new(stream).poll_write_vectored(context, slices),
        };
        self.watched(context, polled)
    }

    fn is_write_vectored(&self) -> bool {
        match &self.stream {
            Stream::Plain(stream) => stream.is_write_vectored(),
            Stream::Tls(stream) => stream.is_write_vectored(),
        }
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        match &mut self.stream {
            Stream::Plain(stream) => Pin::new(stream).poll_flush(context),
            Stream::Tls(stream) => Pin::new(stream).poll_flush(context),
        }
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        match &mut self.stream {
            Stream::Plain(stream) => Pin::new(stream).poll_shutdown(context),
            Stream::Tls(stream) => Pin::new(stream).poll_shutdown(context),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn each_address_has_so_many_places_and_gets_them_back() {
        let places = Arc::new(Places::new(3, Some(2)));
        let room = || places.room.clone().try_acquire_owned();
        let (here, there) = (IpAddr::from([192, 0, 2, 1]), IpAddr::from([192, 0, 2, 2]));
        let first = places.take(here, room().unwrap()).unwrap();
        let second = places.take(here, room().unwrap()).unwrap();
        assert!(places.take(here, room().unwrap()).is_none(), "a third from one address");
        let third = places.take(there, room().unwrap()).unwrap();
        assert!(room().is_err(), "and there is room for three in all");
        drop(first);
        assert!(places.take(here, room().unwrap()).is_some());
        drop((second, third));
        assert!(places.held.lock().unwrap().is_empty(), "nobody is remembered for having been here");
    }

    #[tokio::test]
    async fn a_connection_on_which_nothing_moves_ends() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let mut client = TcpStream::connect(listener.local_addr().unwrap()).await.unwrap();
        let places = Arc::new(Places::new(1, None));
        let place = places.take(IpAddr::from([127, 0, 0, 1]), places.room.clone().try_acquire_owned().unwrap()).unwrap();
        let mut guest = Guest::new(Stream::Plain(listener.accept().await.unwrap().0), place, Duration::from_millis(50));
        client.write_all(b"x").await.unwrap();
        let mut byte = [0; 1];
        guest.read_exact(&mut byte).await.unwrap();
        let ended = guest.read_exact(&mut byte).await.unwrap_err();
        assert_eq!(ended.kind(), io::ErrorKind::TimedOut);
    }
}
