//! Who may do what: one table, one call at the top of each handler.
//!
//! Until people and devices are enrolled, a visitor at the machine itself may enter; a visitor from elsewhere may look.
//! That is the safe reading of "no accounts yet": a tablet on the yard's network sees every page and changes nothing.

use std::net::IpAddr;

/// Something a visitor asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// See the pages.
    Look,
    /// Record an event.
    Record,
    /// Take an event back.
    TakeBack,
    /// Change how this device shows things.
    SetDevice,
    /// Drive the practice plant.
    Train,
}

impl Act {
    /// All acts.
    pub const ALL: [Act; 5] = [Act::Look, Act::Record, Act::TakeBack, Act::SetDevice, Act::Train];
}

/// What a visitor is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// May look.
    Viewer,
    /// May look and enter.
    Operator,
}

/// A refusal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refused;

/// The role of a visitor by where the request comes from.
pub fn role_at(peer: IpAddr) -> Role {
    if peer.to_canonical().is_loopback() { Role::Operator } else { Role::Viewer }
}

/// The one authorisation call.
///
/// # Errors
/// [`Refused`] when the role may not.
pub fn authorise(role: Role, act: Act) -> Result<(), Refused> {
    let allowed = match (role, act) {
        (Role::Operator, _) => true,
        (Role::Viewer, Act::Look | Act::SetDevice) => true,
        (Role::Viewer, Act::Record | Act::TakeBack | Act::Train) => false,
    };
    if allowed { Ok(()) } else { Err(Refused) }
}
