//! What `--help` and the manual pages say beside the options: environment, signals, files, exit status.

/// Of `run`.
pub(super) const OF_RUN: &str = "\
ENVIRONMENT
  LITFLOOR_PASSPHRASE      the operator's passphrase, instead of one that was set
  LITFLOOR_READINGS_TOKEN  the token with which sensors report, instead of one that was made
  LITFLOOR_STANDBY_KEY     what two litfloors that stand by for each other both know
  LITFLOOR_MQTT_USER, LITFLOOR_MQTT_PASSWORD  for the broker of [mqtt]
  LITFLOOR_LOG             as --log
  RUST_LOG                 how much is logged: error, warn (the default), info, debug
  NO_COLOR                 no colours in the log if it is set
  STATE_DIRECTORY, XDG_STATE_HOME, HOME  as --state has it
The package's service takes them from /etc/litfloor/secrets (root's, mode 0600) and /etc/default/litfloor \
(everybody can read it: no secrets).

SIGNALS
  HUP        read the floor file again; a faulty one changes nothing
  INT, TERM  end; the nodes hold the last picture they got, or are made dark first: `when_ended`
             in the floor file

FILES
  /etc/litfloor/floor.toml  the floor file of the package's service
  /etc/default/litfloor     its options
  /etc/litfloor/secrets     its keys and passphrases
  /var/lib/litfloor         its state directory: history, book of repairs, hash of the passphrase

EXIT STATUS
  0  ended by a signal
  1  the floor file has faults, or it or a certificate can't be read
  2  an option is wrong, a passphrase or token too short, or the key for standing by is missing
  3  the machine is at fault: a port that is taken, an address it does not have";

/// Of `status`.
pub(super) const OF_STATUS: &str = "\
ENVIRONMENT
  LITFLOOR_LOG, RUST_LOG  as for litfloor run

EXIT STATUS
  0  all is well
  1  something is wrong
  2  an option is wrong
  3  nobody answers, or what answers can't be understood";

/// Of `doctor`.
pub(super) const OF_DOCTOR: &str = "\
ENVIRONMENT
  STATE_DIRECTORY, XDG_STATE_HOME, HOME  where run will keep its state, as --state has it
  LITFLOOR_PASSPHRASE, LITFLOOR_READINGS_TOKEN, LITFLOOR_STANDBY_KEY
                                         as for litfloor run: looked at, and told to nobody
  LITFLOOR_LOG, RUST_LOG                 as for litfloor run
The package's service is looked at as its user and where it keeps its state:
  sudo -u litfloor litfloor doctor /etc/litfloor/floor.toml --state /var/lib/litfloor

EXIT STATUS
  0  nothing is wrong; there may be things to mind
  1  the floor file has faults or can't be read
  2  an option is wrong
  3  something of the machine or its network is wrong";
