//! The yard as a whole.

use crate::points::{Machine, Point};
use crate::{
    Accounts, Agency, Alerts, Bench, ChoreChange, Contact, Crew, Instrument, Loading, Meter, Metered, Plant,
    Policy, Product, PutRight, Receiving, Route, RouteClass, Salt, Segment, Signing, Spec, SpecFor, Tank,
    Trim, Truck, UnitSystem, Watershed,
};
use chemistry::recipe::RockSalt;
use quantity::Length;
use road::sky::Place;

/// A whole yard.
#[derive(Debug, Clone)]
pub struct Yard {
    /// What people call it.
    pub name: String,
    /// IANA time zone name, known to be valid. Display only: everything inside is UTC.
    pub time_zone: String,
    /// Units a person sees first.
    pub units: UnitSystem,
    /// Weather station to pick from a file that holds several.
    pub weather_station: Option<String>,
    /// Height above sea level, for air pressure.
    pub elevation: Length,
    /// Where it is, for the sun; none where the file does not say.
    pub place: Option<Place>,
    /// The brine plant.
    pub plant: Plant,
    /// Rock salt as delivered.
    pub salt: Salt,
    /// Liquids that can stand in a tank. Always holds one made here.
    pub products: Vec<Product>,
    /// Tanks, in the order of the file.
    pub tanks: Vec<Tank>,
    /// Classes of route.
    pub route_classes: Vec<RouteClass>,
    /// Routes, in the order of the file.
    pub routes: Vec<Route>,
    /// Stretches of routes that are unlike their class, in the order of the file.
    pub segments: Vec<Segment>,
    /// Trucks, in the order of the file.
    pub trucks: Vec<Truck>,
    /// The loading place.
    pub loading: Loading,
    /// When people are there.
    pub crew: Crew,
    /// How the agency treats roads.
    pub policy: Policy,
    /// What a tank can be put right with.
    pub put_right: PutRight,
    /// Instruments of the bench, in the order of the file; never empty.
    pub instruments: Vec<Instrument>,
    /// Targets and bands that are not the plant's, of tanks and products.
    pub specs: Vec<SpecFor>,
    /// The controller's adjustable number.
    pub trim: Trim,
    /// How the bench judges.
    pub bench: Bench,
    /// How people sign at a shared device.
    pub signing: Signing,
    /// How the plant is built, where the file says so.
    pub making: Option<plant::layout::Layout>,
    /// Machines that are read over the network.
    pub machines: Vec<Machine>,
    /// What is read from them.
    pub points: Vec<Point>,
    /// Meters of liquid, in the order of the file.
    pub meters: Vec<Meter>,
    /// Waters that routes drain to.
    pub watersheds: Vec<Watershed>,
    /// Agencies that liquid is issued to.
    pub agencies: Vec<Agency>,
    /// Whom to call, in the order of the file.
    pub contacts: Vec<Contact>,
    /// Chores of this yard: its own, and changes to those that ship.
    pub chores: Vec<ChoreChange>,
    /// What salt must be to be taken.
    pub receiving: Receiving,
    /// How the books are kept.
    pub accounts: Accounts,
    /// Who is told of what, and how.
    pub alerts: Alerts,
}

impl Yard {
    /// A truck by id.
    pub fn truck(&self, id: &str) -> Option<&Truck> {
        self.trucks.iter().find(|truck| truck.id == id)
    }

    /// A route by id.
    pub fn route(&self, id: &str) -> Option<&Route> {
        self.routes.iter().find(|route| route.id == id)
    }

    /// A segment by id.
    pub fn segment(&self, id: &str) -> Option<&Segment> {
        self.segments.iter().find(|segment| segment.id == id)
    }

    /// A class of route by id.
    pub fn route_class(&self, id: &str) -> Option<&RouteClass> {
        self.route_classes.iter().find(|class| class.id == id)
    }

    /// A meter by id.
    pub fn meter(&self, id: &str) -> Option<&Meter> {
        self.meters.iter().find(|meter| meter.id == id)
    }

    /// The meter of the loading place, where there is just one.
    pub fn loading_meter(&self) -> Option<&Meter> {
        let mut all = self.meters.iter().filter(|meter| meter.on == Metered::Loading);
        all.next().filter(|_| all.next().is_none())
    }

    /// The tanks in use: all but the retired ones.
    pub fn tanks_in_use(&self) -> impl Iterator<Item = &Tank> {
        self.tanks.iter().filter(|tank| !tank.is_retired)
    }

    /// An agency by its name.
    pub fn agency(&self, name: &str) -> Option<&Agency> {
        self.agencies.iter().find(|agency| agency.name == name)
    }

    /// An instrument by id.
    pub fn instrument(&self, id: &str) -> Option<&Instrument> {
        self.instruments.iter().find(|one| one.id == id)
    }

    /// What a tank's brine should be: its own spec, else its product's, else the plant's.
    pub fn spec(&self, tank: &str) -> Spec {
        let product = self.tank(tank).map(|tank| tank.product.as_str());
        let of_tank = self.specs.iter().find(|one| one.tank.as_deref() == Some(tank));
        let of_product =
            || self.specs.iter().find(|one| one.product.is_some() && one.product.as_deref() == product);
        of_tank.or_else(of_product).map_or_else(|| self.made_spec(), |one| one.spec.clone())
    }

    /// What the plant makes should be: the spec of its product, else the plant's own figures.
    pub fn made_spec(&self) -> Spec {
        let made = Some(self.plant.product.as_str());
        let of_product = self.specs.iter().find(|one| one.tank.is_none() && one.product.as_deref() == made);
        of_product.map_or_else(
            || Spec {
                target: self.plant.target_strength,
                low: self.plant.spec_low,
                high: self.plant.spec_high,
                reason: None,
            },
            |one| one.spec.clone(),
        )
    }
}

impl Yard {
    /// A tank by id.
    pub fn tank(&self, id: &str) -> Option<&Tank> {
        self.tanks.iter().find(|tank| tank.id == id)
    }

    /// A product by id.
    pub fn product(&self, id: &str) -> Option<&Product> {
        self.products.iter().find(|product| product.id == id)
    }

    /// The yard's rock salt.
    pub fn rock_salt(&self) -> RockSalt {
        RockSalt { purity: self.salt.purity, moisture: self.salt.moisture }
    }
}
