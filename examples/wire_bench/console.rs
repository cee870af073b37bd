//! The console: full universes whose picture changes with every frame, sent in batches but each as
//! a datagram of its own, for a console knows nothing of cutting them apart.

use std::io::{self, IoSlice};
use std::net::{Ipv4Addr, SocketAddrV4, UdpSocket};
use std::os::fd::AsRawFd;

use litfloor::wire::PortAddress;
use litfloor::wire::dmx::{HEADER, LARGEST, write};
use nix::sys::socket::{MsgFlags, MultiHeaders, sendmmsg};

/// Datagrams that one call takes.
pub(crate) const BATCH: usize = 64;

/// Slots that tell which frame it is.
pub(crate) const STAMP: usize = 4;

/// The first stamp: bright enough that it changes when it is dimmed.
pub(crate) const FIRST: u32 = 0x0040_4040;

/// Pictures that take turns behind the stamps: a prime, so that no universe sees few of them.
const PICTURES: usize = 61;

pub(crate) struct Console {
    socket: UdpSocket,
    headers: Vec<[u8; HEADER + STAMP]>,
    numbers: Vec<u32>,
    pictures: Vec<[u8; LARGEST - HEADER - STAMP]>,
    calls: MultiHeaders<()>,
    /// Whether the picture and the stamp change.
    pub(crate) changing: bool,
    /// Of so many in a hundred universes.
    pub(crate) moving: usize,
    pub(crate) sent: u64,
}

impl Console {
    /// For so many universes, whose levels are up to `brightest`.
    #[expect(clippy::disallowed_methods, reason = "it is the console")]
    pub(crate) fn new(universes: u32, brightest: u8) -> io::Result<Self> {
        let socket = UdpSocket::bind((Ipv4Addr::LOCALHOST, 0))?;
        let headers = (0..universes).map(|number| {
            let address = u16::try_from(number).ok().and_then(PortAddress::new);
            let address = address.ok_or_else(|| io::Error::other("too many universes"))?;
            let mut datagram = [0; LARGEST];
            write(&mut datagram, 0, 0, address, &[0; 512]);
            let mut header = [0; HEADER + STAMP];
            header.copy_from_slice(&datagram[..HEADER + STAMP]);
            Ok(header)
        });
        // Steele's and Vigna's constant of a linear congruential generator; any would do.
        let mut dice = 1_u64;
        let mut level = || {
            dice = dice.wrapping_mul(0xd134_2543_de82_ef95).wrapping_add(1);
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a remainder of 256 at most"
            )]
            let level = ((dice >> 40) % (u64::from(brightest) + 1)) as u8;
            level
        };
        Ok(Self {
            socket,
            headers: headers.collect::<io::Result<_>>()?,
            numbers: vec![FIRST; universes as usize],
            pictures: (0..PICTURES)
                .map(|_| std::array::from_fn(|_| level()))
                .collect(),
            calls: MultiHeaders::preallocate(BATCH, None),
            changing: true,
            moving: 100,
            sent: 0,
        })
    }

    /// Waves from now on in place of dice: every level moves by a little with every frame.
    pub(crate) fn glide(&mut self) {
        let turn = |part: usize, of: usize| std::f64::consts::TAU * share(part, of);
        for (at, picture) in self.pictures.iter_mut().enumerate() {
            for (slot, level) in picture.iter_mut().enumerate() {
                let wave = (turn(at, PICTURES) + turn(slot, 255)).sin();
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "from 15 to 85"
                )]
                let whole = 35.0f64.mul_add(wave, 50.0).round() as u8;
                *level = whole;
            }
        }
    }

    pub(crate) fn universes(&self) -> usize {
        self.headers.len()
    }

    /// Whom it sends to.
    pub(crate) fn aim(&self, at: SocketAddrV4) -> io::Result<()> {
        self.socket.connect(at)
    }

    /// Sends the next frame of up to [`BATCH`] universes from this one on, and says of how many.
    pub(crate) fn send(&mut self, first: usize, most: usize) -> io::Result<usize> {
        let end = (first + most.min(BATCH)).min(self.headers.len());
        for universe in first..end {
            let header = &mut self.headers[universe];
            header[12] = if header[12] == 255 { 1 } else { header[12] + 1 };
            // They are spread over the floor: 37 has no divisor in common with 100.
            if self.changing && universe * 37 % 100 < self.moving {
                self.numbers[universe] += 1;
            }
            header[HEADER..].copy_from_slice(&self.numbers[universe].to_le_bytes());
        }
        let parts: [[IoSlice<'_>; 2]; BATCH] = std::array::from_fn(|at| {
            let universe = (first + at).min(end - 1);
            let picture = (self.numbers[universe] as usize + 7 * universe) % PICTURES;
            [
                IoSlice::new(&self.headers[universe]),
                IoSlice::new(&self.pictures[picture]),
            ]
        });
        let mut done = 0;
        while done < end - first {
            let parts = &parts[done..end - first];
            let nobody = [None; BATCH];
            let calls = &mut self.calls;
            let raw = self.socket.as_raw_fd();
            match sendmmsg(raw, calls, parts, nobody, [], MsgFlags::empty()) {
                Ok(sent) => done += sent.count(),
                // The forwarder has just gone, or is not there yet.
                Err(nix::errno::Errno::ECONNREFUSED) => done += 1,
                Err(error) => return Err(error.into()),
            }
        }
        self.sent += done as u64;
        Ok(done)
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "neither is more than a few hundred"
)]
fn share(part: usize, of: usize) -> f64 {
    part as f64 / of as f64
}
