//! The practice plant on the network: a Modbus TCP server that refuses to be written to, and a publisher over MQTT.

use std::future::{Ready, ready};
use std::sync::Arc;
use std::time::Duration;

use rumqttc::{AsyncClient, MqttOptions, QoS};
use tokio::net::TcpListener;
use tokio::time::{MissedTickBehavior, interval};
use tokio_modbus::server::Service;
use tokio_modbus::server::tcp::{Server, accept_tcp_connection};
use tokio_modbus::{ExceptionCode, Request, Response};

/// What the practice plant shows, in order: each in the unit it is kept in.
pub trait Showing: Send + Sync + 'static {
    /// All values as they stand now.
    fn values(&self) -> Vec<f64>;
}

/// Answers reads with the values as single floats, two registers each, the high word first, from register 0 on.
struct Answering {
    showing: Arc<dyn Showing>,
}

impl Service for Answering {
    type Request = Request<'static>;
    type Response = Response;
    type Exception = ExceptionCode;
    type Future = Ready<Result<Response, ExceptionCode>>;

    fn call(&self, request: Request<'static>) -> Self::Future {
        let words = |from: u16, count: u16| -> Result<Vec<u16>, ExceptionCode> {
            let all: Vec<u16> = self
                .showing
                .values()
                .into_iter()
                .flat_map(|value| {
                    let bits = (value as f32).to_bits();
                    [(bits >> 16) as u16, (bits & 0xffff) as u16]
                })
                .collect();
            let (from, count) = (usize::from(from), usize::from(count));
            if count == 0 || 125 < count {
                return Err(ExceptionCode::IllegalDataValue);
            }
            all.get(from..from + count).map(<[u16]>::to_vec).ok_or(ExceptionCode::IllegalDataAddress)
        };
        ready(match request {
            Request::ReadInputRegisters(from, count) => words(from, count).map(Response::ReadInputRegisters),
            Request::ReadHoldingRegisters(from, count) => {
                words(from, count).map(Response::ReadHoldingRegisters)
            }
            // Everything else would act, or does not exist here.
            _ => Err(ExceptionCode::IllegalFunction),
        })
    }
}

/// Serves the values to every client that connects, until it is dropped.
///
/// # Errors
/// When the listener fails.
pub async fn serve_modbus(listener: TcpListener, showing: Arc<dyn Showing>) -> std::io::Result<()> {
    let connected = |stream, peer| {
        let showing = Arc::clone(&showing);
        async move {
            accept_tcp_connection(stream, peer, move |_| {
                Ok(Some(Answering { showing: Arc::clone(&showing) }))
            })
        }
    };
    Server::new(listener).serve(&connected, |_| {}).await
}

/// Publishes what is shown on `prefix/name`, each as `{"value": …}`, until it is dropped. A broker that is away is
/// waited for.
pub async fn publish_mqtt(
    (host, port): (String, u16),
    prefix: String,
    names: Vec<String>,
    every: Duration,
    showing: Arc<dyn Showing>,
) {
    let mut options = MqttOptions::new(format!("brinewright-practice-{}", std::process::id()), host, port);
    options.set_keep_alive(Duration::from_secs(10));
    let (client, mut events) = AsyncClient::new(options, 4 * names.len() + 16);
    let sending = async {
        let mut ticks = interval(every);
        ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
        loop {
            ticks.tick().await;
            for (name, value) in names.iter().zip(showing.values()) {
                let payload = format!("{{\"value\": {value}}}");
                // The practice plant is ours: it may say what it shows. What a full queue drops, the next tick says.
                #[allow(clippy::disallowed_methods, reason = "the practice plant's own publisher")]
                let _ = client.try_publish(format!("{prefix}/{name}"), QoS::AtMostOnce, false, payload);
            }
        }
    };
    let working = async {
        loop {
            if events.poll().await.is_err() {
                tokio::time::sleep(Duration::from_secs(1)).await;
            }
        }
    };
    tokio::select! {
        () = sending => {}
        () = working => {}
    }
}
