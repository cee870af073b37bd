//! The operator's passphrase: what it must be, its hash, and the comparison.

use argon2::password_hash::rand_core::{OsRng, RngCore};
use argon2::password_hash::{Error, PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use argon2::{Algorithm, Argon2, Params};

/// Fewest characters. NIST SP 800-63B asks for as many of a secret that a person chooses.
pub(super) const FEWEST: usize = 8;

/// A new passphrase that is long enough.
pub(super) struct Passphrase(String);

/// It has too few characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a passphrase needs at least {FEWEST} characters")]
pub struct TooShort;

impl Passphrase {
    /// # Errors
    /// When it has fewer than eight characters.
    pub(super) fn new(text: String) -> Result<Self, TooShort> {
        if text.chars().count() < FEWEST {
            return Err(TooShort);
        }
        Ok(Self(text))
    }

    /// Its salted hash in the PHC string format.
    ///
    /// # Errors
    /// When the system gives no memory or no random numbers.
    pub(super) fn hash(&self) -> Result<Hash, Error> {
        let mut salt = [0; 16];
        OsRng.try_fill_bytes(&mut salt).map_err(|_| Error::Crypto)?;
        let salt = SaltString::encode_b64(&salt)?;
        let hash = Argon2::default().hash_password(self.0.as_bytes(), &salt)?;
        Ok(Hash(hash.to_string()))
    }
}

/// The salted Argon2id hash of a passphrase.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Hash(String);

impl Hash {
    /// Reads what [`as_str`](Self::as_str) wrote; nothing if it is no whole Argon2id hash.
    pub(super) fn read(text: &str) -> Option<Self> {
        let hash = PasswordHash::new(text).ok()?;
        let whole = hash.algorithm == Algorithm::Argon2id.ident()
            && hash.salt.is_some()
            && hash.hash.is_some()
            && Params::try_from(&hash).is_ok();
        whole.then(|| Self(text.to_owned()))
    }

    /// The PHC string.
    pub(super) fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether it is the hash of `text`.
    ///
    /// # Errors
    /// When the comparison could not be made, for want of memory.
    pub(super) fn fits(&self, text: &str) -> Result<bool, Error> {
        let hash = PasswordHash::new(&self.0)?;
        match Argon2::default().verify_password(text.as_bytes(), &hash) {
            Ok(()) => Ok(true),
            Err(Error::Password) => Ok(false),
            Err(error) => Err(error),
        }
    }
}

#[cfg(test)]
mod tests {
    use argon2::{ParamsBuilder, Version};

    use super::*;

    fn hash(text: &str) -> Hash {
        Passphrase::new(text.to_owned()).unwrap().hash().unwrap()
    }

    /// The OWASP Password Storage Cheat Sheet: Argon2id with at least 19 MiB of memory, an
    /// iteration count of 2, and 1 degree of parallelism.
    #[test]
    fn the_work_is_what_owasp_asks_for() {
        let text = hash("correct horse");
        let read = PasswordHash::new(text.as_str()).unwrap();
        let params = Params::try_from(&read).unwrap();
        assert_eq!(read.algorithm.as_str(), "argon2id");
        assert!(params.m_cost() >= 19 * 1_024, "KiB");
        assert_eq!((params.t_cost(), params.p_cost()), (2, 1));
        // RFC 9106, section 3.1: 16 bytes of salt are recommended for passwords.
        assert!(read.salt.unwrap().len() >= 22, "16 bytes in base 64");
        assert_eq!(read.hash.unwrap().len(), 32);
    }

    /// RFC 9106, section 5.3: the test vector of Argon2id.
    #[test]
    fn the_function_is_that_of_rfc_9106() {
        let params = ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .data(argon2::AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let argon2 =
            Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon2
            .hash_password_into(&[1; 32], &[2; 16], &mut tag)
            .unwrap();
        assert_eq!(
            tag,
            [
                0x0d, 0x64, 0x0d, 0xf5, 0x8d, 0x78, 0x76, 0x6c, 0x08, 0xc0, 0x37, 0xa3, 0x4a, 0x8b,
                0x53, 0xc9, 0xd0, 0x1e, 0xf0, 0x45, 0x2d, 0x75, 0xb6, 0x5e, 0xb5, 0x25, 0x20, 0xe9,
                0x6b, 0x01, 0xe6, 0x59,
            ]
        );
    }

    #[test]
    fn only_the_passphrase_itself_fits_and_no_two_hashes_are_alike() {
        let one = hash("käse über alles");
        assert!(one.fits("käse über alles").unwrap());
        for wrong in ["", "käse über alle", "käse über alles ", "Käse über alles"] {
            assert!(!one.fits(wrong).unwrap(), "{wrong:?}");
        }
        assert_ne!(one, hash("käse über alles"));
        assert!(!one.as_str().contains("käse"));
        assert_eq!(Hash::read(one.as_str()), Some(one));
    }

    #[test]
    fn characters_are_counted_not_bytes() {
        assert!(Passphrase::new("äöüäöüä".into()).is_err());
        assert!(Passphrase::new("äöüäöüäö".into()).is_ok());
    }

    #[test]
    fn what_is_no_whole_hash_is_not_read() {
        let whole = hash("correct horse");
        let half = whole.as_str().rsplit_once('$').unwrap().0;
        let other = whole.as_str().replace("argon2id", "argon2i");
        for text in ["", "correct horse", "$argon2id$", half, other.as_str()] {
            assert_eq!(Hash::read(text), None, "{text}");
        }
    }
}
