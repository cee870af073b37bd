//! Where litfloor listens, and what is said of that at the start.

use std::io::{self, Write};
use std::net::{SocketAddr, SocketAddrV4, TcpListener, UdpSocket};

use super::doors::Opened;
use super::failure::Failure;
use crate::net::{interfaces, socket};

/// Both sockets, open.
#[derive(Debug)]
pub(super) struct Sockets {
    pub(super) artnet: UdpSocket,
    pub(super) http: TcpListener,
    pub(super) doors: Opened,
    /// Where Art-Net is listened to.
    pub(super) artnet_at: SocketAddrV4,
    /// Where the dashboard is.
    pub(super) http_at: SocketAddr,
}

impl Sockets {
    /// Opens both, before anything else is done, so that a taken port is said at once.
    pub(super) fn open(
        artnet: SocketAddrV4,
        http: SocketAddr,
        doors: Opened,
    ) -> Result<Self, Failure> {
        let artnet = socket::artnet(artnet.into()).map_err(Failure::machine)?;
        let http = socket::http(http).map_err(Failure::machine)?;
        let SocketAddr::V4(artnet_at) = artnet.local_addr().map_err(Failure::machine)? else {
            return Err(Failure::machine("the Art-Net socket has no IPv4 address"));
        };
        let http_at = http.local_addr().map_err(Failure::machine)?;
        Ok(Self {
            artnet,
            http,
            doors,
            artnet_at,
            http_at,
        })
    }

    /// Says where Art-Net is listened to and where the dashboard is.
    pub(super) fn tell(&self, out: &mut dyn Write) -> io::Result<()> {
        writeln!(out, "Art-Net in: {}", self.artnet_at)?;
        let scheme = self.doors.encryption.as_ref().map_or("http", |_| "https");
        let port = self.http_at.port();
        let at = self.http_at.ip();
        if at.is_unspecified() {
            writeln!(out, "Dashboard: {scheme}://127.0.0.1:{port}")?;
            let own = interfaces::list();
            for (address, _) in own.iter().filter(|(address, _)| !address.is_loopback()) {
                writeln!(
                    out,
                    "From a phone on the same network: {scheme}://{address}:{port}"
                )?;
            }
        } else {
            writeln!(out, "Dashboard: {scheme}://{}", self.http_at)?;
            if at.is_loopback() {
                writeln!(
                    out,
                    "It is for this machine only; --http 0.0.0.0:{port} opens it to phones."
                )?;
            }
        }
        let guests = self.doors.guests.as_ref();
        if let Some(Ok(at)) = guests.map(TcpListener::local_addr) {
            writeln!(out, "For guests, who can only look: {scheme}://{at}")?;
        }
        if let Some(encryption) = &self.doors.encryption {
            writeln!(
                out,
                "Certificate (SHA-256): {}{}",
                encryption.fingerprint(),
                if encryption.was_given() {
                    ""
                } else {
                    "\nlitfloor made it of itself: browsers warn of it. Go on only if the one that they \
                     show has this fingerprint."
                }
            )?;
        }
        Ok(())
    }
}
