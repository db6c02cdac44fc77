//! What does not add up, and why an event could not be counted.

use message::{Message, Tell, message};

use event::EventId;
use site::strapping::LevelError;

/// Something that does not add up. The event stays in the ledger.
#[derive(Debug, Clone, PartialEq)]
pub enum BookProblem {
    /// The book of a tank went below zero.
    TankBelowZero {
        /// Id of the tank.
        tank: String,
        /// Event that took it there.
        event: EventId,
    },
    /// The book of the salt pile went below zero.
    SaltBelowZero {
        /// Event that took it there.
        event: EventId,
    },
    /// An event that could not be counted.
    NotCounted {
        /// The event that was left out.
        event: EventId,
        /// Why it was left out.
        reason: NotCounted,
    },
}

/// Why an event could not be counted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum NotCounted {
    /// A tank that the yard file does not name.
    NoTank(String),
    /// A product that the yard file does not name.
    NoProduct(String),
    /// A tank whose product the yard file does not name.
    NoProductOfTank(String),
    /// A truck brought back another product than the tank holds.
    OtherProduct {
        /// Id of the truck.
        truck: String,
        /// Id of the product it carries.
        carried: String,
        /// Id of the tank.
        tank: String,
        /// Id of the tank's product.
        held: String,
    },
    /// A depth that the tank does not have.
    Level(#[from] LevelError),
    /// A strength or a temperature outside the data.
    Chemistry(#[from] chemistry::Error),
}

impl Tell for NotCounted {
    fn message(&self) -> Message {
        match self {
            NotCounted::NoTank(tank) => message!("yard.no_tank", tank = tank),
            NotCounted::NoProduct(product) => message!("yard.no_product", product = product),
            NotCounted::NoProductOfTank(tank) => message!("yard.no_product_of_tank", tank = tank),
            NotCounted::OtherProduct { truck, carried, tank, held } => {
                message!("yard.other_product", truck = truck, carried = carried, tank = tank, held = held)
            }
            NotCounted::Level(error) => error.message(),
            NotCounted::Chemistry(error) => error.message(),
        }
    }
}
