//! MQTT 3.1.1: topics listened to.

use std::time::Duration;

use message::{Message, message};
use rumqttc::{AsyncClient, Event, EventLoop, MqttOptions, Packet, Publish, QoS, SubscribeFilter};
use site::points::{At, Protocol};

use crate::live::Look;
use crate::{Live, Patience, Wait, decode, outside};

/// A broker that says nothing for longer than this, not even to a ping, is taken for gone.
const KEEP_ALIVE: Duration = Duration::from_secs(10);

/// A connection that can subscribe and nothing else.
struct Listening {
    client: AsyncClient,
    events: EventLoop,
}

/// What a connection has brought.
enum Heard {
    Connected,
    Message(Publish),
    Other,
}

impl Listening {
    fn new(
        address: &str,
        (user, password): (Option<&str>, Option<&str>),
        topics: usize,
        patience: Patience,
    ) -> Option<Self> {
        let (host, port) = address.rsplit_once(':')?;
        let id = format!("brinewright-{:08x}-{}", std::process::id(), short_number());
        let mut options = MqttOptions::new(id, host, port.parse::<u16>().ok()?);
        options.set_keep_alive(KEEP_ALIVE);
        options.set_clean_session(true);
        options.set_max_packet_size(decode::LONGEST_MESSAGE + 2048, 4096);
        if let Some(user) = user {
            options.set_credentials(user, password.unwrap_or(""));
        }
        let (client, mut events) = AsyncClient::new(options, topics + 8);
        events.network_options.set_connection_timeout(patience.answer.as_secs().max(1));
        Some(Self { client, events })
    }

    async fn hear(&mut self) -> Result<Heard, Message> {
        match self.events.poll().await {
            Ok(Event::Incoming(Packet::ConnAck(_))) => Ok(Heard::Connected),
            Ok(Event::Incoming(Packet::Publish(publish))) => Ok(Heard::Message(publish)),
            Ok(_) => Ok(Heard::Other),
            Err(error) => Err(outside(error)),
        }
    }

    /// Asks for topics. A broker forgets at every connection, so this is done after each.
    fn subscribe(&self, topics: &[&str]) -> Result<(), Message> {
        let filters = topics.iter().map(|topic| SubscribeFilter::new((*topic).to_string(), QoS::AtLeastOnce));
        self.client.try_subscribe_many(filters).map_err(outside)
    }
}

/// Tells two listeners of one process apart.
fn short_number() -> u32 {
    use std::sync::atomic::{AtomicU32, Ordering};
    static NEXT: AtomicU32 = AtomicU32::new(1);
    NEXT.fetch_add(1, Ordering::Relaxed)
}

/// Listens for ever.
pub(crate) async fn follow(live: &Live, machine: usize, patience: Patience) {
    let Some(described) = live.machines().get(machine) else { return };
    let Protocol::Mqtt { user, password_file } = &described.protocol else { return };
    let mut topics: Vec<&str> = live
        .of_machine(machine)
        .filter_map(|(_, point)| match &point.at {
            At::Topic { topic, .. } => Some(topic.as_str()),
            At::Register { .. } => None,
        })
        .collect();
    topics.sort_unstable();
    topics.dedup();
    let mut wait = Wait::new(patience);
    loop {
        let password = match password_file.as_ref().map(std::fs::read_to_string).transpose() {
            Ok(text) => text.and_then(|text| text.lines().next().map(str::to_string)),
            Err(error) => {
                live.lost(machine, message!("link.password_file", words = error.to_string()));
                wait.pass().await;
                continue;
            }
        };
        let person = (user.as_deref(), password.as_deref());
        let made = Listening::new(&described.address, person, topics.len(), patience);
        let Some(mut listening) = made else { return };
        let why = listen(live, machine, &mut listening, &topics, &mut wait).await;
        live.lost(machine, why);
        wait.pass().await;
    }
}

/// Listens over one connection until it breaks; answers why.
async fn listen(
    live: &Live,
    machine: usize,
    listening: &mut Listening,
    topics: &[&str],
    wait: &mut Wait,
) -> Message {
    loop {
        match listening.hear().await {
            Ok(Heard::Connected) => {
                live.connected(machine);
                if let Err(why) = listening.subscribe(topics) {
                    return why;
                }
            }
            Ok(Heard::Message(publish)) => {
                wait.start_over();
                take(live, machine, &publish);
            }
            Ok(Heard::Other) => {}
            Err(why) => return why,
        }
    }
}

fn take(live: &Live, machine: usize, publish: &Publish) {
    let looks = live.of_machine(machine).filter_map(|(place, point)| match &point.at {
        At::Topic { topic, pointer } if *topic == publish.topic => Some(Look {
            point: place,
            read: decode::number_in(&publish.payload, pointer.as_deref()),
            registers: Vec::new(),
            kept: publish.retain,
        }),
        _ => None,
    });
    live.take(looks.collect());
}
