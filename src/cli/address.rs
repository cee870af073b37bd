//! `ADDRESS:PORT` as it is typed.

use std::net::{SocketAddr, SocketAddrV4};
use std::str::FromStr;

/// Reads where to serve the dashboard.
///
/// # Errors
/// Says what to write.
pub(super) fn any(text: &str) -> Result<SocketAddr, String> {
    read(text, "0.0.0.0:8080")
}

/// Reads where to listen to Art-Net, which is IPv4 only.
///
/// # Errors
/// Says what to write.
pub(super) fn v4(text: &str) -> Result<SocketAddrV4, String> {
    read(text, "0.0.0.0:6454")
}

/// A bare port or a bare address is handed back with what it lacks.
fn read<T: FromStr>(text: &str, example: &str) -> Result<T, String> {
    text.parse().map_err(|_| {
        let (address, port) = example.rsplit_once(':').unwrap_or((example, ""));
        let meant = [
            format!("127.0.0.1:{text}"),
            format!("{text}:{port}"),
            format!("{address}{text}"),
        ];
        let meant = meant.iter().find(|meant| meant.parse::<T>().is_ok());
        let meant = meant.map_or(example, |meant| meant.as_str());
        format!("write ADDRESS:PORT, such as {meant}")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lacks_a_part_is_completed() {
        let told = |text| any(text).expect_err("refused");
        assert_eq!(told("18090"), "write ADDRESS:PORT, such as 127.0.0.1:18090");
        assert_eq!(told(":18090"), "write ADDRESS:PORT, such as 0.0.0.0:18090");
        assert_eq!(
            told("10.0.0.5"),
            "write ADDRESS:PORT, such as 10.0.0.5:8080"
        );
        assert_eq!(told("[::1]"), "write ADDRESS:PORT, such as [::1]:8080");
        assert_eq!(told("99999"), "write ADDRESS:PORT, such as 0.0.0.0:8080");
        assert_eq!(
            v4("[::1]:6454").expect_err("refused"),
            "write ADDRESS:PORT, such as 0.0.0.0:6454"
        );
        assert!(any("[::1]:8080").is_ok() && v4("127.0.0.1:0").is_ok());
    }
}
