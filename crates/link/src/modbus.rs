//! Modbus TCP: registers polled in blocks.
//!
//! After any timeout, mismatch or cut the connection is dropped: a late answer must never be taken for the next one.

use std::time::Duration;

use message::{Message, message};
use site::points::{At, Form, Protocol, Table};
use tokio::net::TcpStream;
use tokio::time::{Instant, sleep_until, timeout};
use tokio_modbus::client::{Context, Reader as _, tcp};
use tokio_modbus::prelude::{ExceptionCode, Slave};

use crate::live::Look;
use crate::{Live, Patience, Wait, decode, outside};

/// Registers asked for at once; the standard allows 125.
const LONGEST_BLOCK: u16 = 120;
/// Polls that are late by more than this are skipped.
const LONGEST_LAG: Duration = Duration::from_secs(1);
/// Widest gap between two points, in registers, that is still read in one block.
const WIDEST_GAP: u16 = 6;

/// A connection that can read and nothing else.
struct Reading {
    context: Context,
    within: Duration,
}

/// Why there is no answer.
enum Trouble {
    /// The machine refuses these registers; the connection is sound.
    Refused(ExceptionCode),
    /// The connection must be dropped.
    Broken(Message),
}

impl Reading {
    async fn connect(address: &str, unit: u8, within: Duration) -> Result<Self, Message> {
        let failed = |error: std::io::Error| {
            message!("link.no_connection", address = address, words = error.to_string())
        };
        let stream = timeout(within, TcpStream::connect(address))
            .await
            .map_err(|_| message!("link.no_answer", address = address))?
            .map_err(failed)?;
        stream.set_nodelay(true).map_err(failed)?;
        Ok(Self { context: tcp::attach_slave(stream, Slave(unit)), within })
    }

    async fn read(&mut self, table: Table, from: u16, count: u16) -> Result<Vec<u16>, Trouble> {
        let bits = |bits: Vec<bool>| bits.into_iter().map(u16::from).collect::<Vec<u16>>();
        let asked = async {
            match table {
                Table::Input => self.context.read_input_registers(from, count).await,
                Table::Holding => self.context.read_holding_registers(from, count).await,
                Table::Discrete => {
                    self.context.read_discrete_inputs(from, count).await.map(|found| found.map(bits))
                }
                Table::Coil => self.context.read_coils(from, count).await.map(|found| found.map(bits)),
            }
        };
        match timeout(self.within, asked).await {
            Err(_) => Err(Trouble::Broken(message!("link.late"))),
            Ok(Err(error)) => Err(Trouble::Broken(outside(error))),
            Ok(Ok(Err(exception))) => Err(Trouble::Refused(exception)),
            Ok(Ok(Ok(words))) if words.len() == usize::from(count) => Ok(words),
            Ok(Ok(Ok(words))) => {
                let broken = message!("link.register_count", got = words.len(), asked = u32::from(count));
                Err(Trouble::Broken(broken))
            }
        }
    }
}

/// A point within a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Part {
    point: usize,
    offset: u16,
    form: Form,
    low_first: bool,
}

/// Neighbouring registers that are read at once.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Block {
    table: Table,
    from: u16,
    count: u16,
    parts: Vec<Part>,
}

impl Block {
    /// Each of its points by itself.
    fn apart(&self) -> Vec<Block> {
        let one = |part: &Part| Block {
            table: self.table,
            from: self.from + part.offset,
            count: part.form.length(),
            parts: vec![Part { offset: 0, ..*part }],
        };
        self.parts.iter().map(one).collect()
    }

    fn looks(&self, words: &[u16]) -> Vec<Look> {
        let look = |part: &Part| {
            let from = usize::from(part.offset);
            let registers = words.get(from..from + usize::from(part.form.length())).unwrap_or(&[]).to_vec();
            let read = decode::number(&registers, part.form, part.low_first)
                .ok_or_else(|| message!("link.not_finite"));
            Look { point: part.point, read, registers, kept: false }
        };
        self.parts.iter().map(look).collect()
    }
}

/// The points of a machine as blocks.
fn blocks(live: &Live, machine: usize, base: u16) -> Vec<Block> {
    let mut all: Vec<(Table, u16, Part)> = live
        .of_machine(machine)
        .filter_map(|(point, one)| match one.at {
            At::Register { table, number, form, low_first } => {
                Some((table, number.checked_sub(base)?, Part { point, offset: 0, form, low_first }))
            }
            At::Topic { .. } => None,
        })
        .collect();
    all.sort_by_key(|(table, from, _)| (*table, *from));
    let mut blocks: Vec<Block> = Vec::new();
    for (table, from, part) in all {
        let end = from.saturating_add(part.form.length());
        match blocks.last_mut() {
            Some(block)
                if block.table == table
                    && from <= (block.from + block.count).saturating_add(WIDEST_GAP)
                    && end - block.from <= LONGEST_BLOCK =>
            {
                block.parts.push(Part { offset: from - block.from, ..part });
                block.count = block.count.max(end - block.from);
            }
            _ => blocks.push(Block { table, from, count: part.form.length(), parts: vec![part] }),
        }
    }
    blocks
}

/// Polls a machine for ever.
pub(crate) async fn follow(live: &Live, machine: usize, patience: Patience) {
    let Some(described) = live.machines().get(machine) else { return };
    let Protocol::Modbus { unit, base } = described.protocol else { return };
    let mut wait = Wait::new(patience);
    loop {
        let why = match Reading::connect(&described.address, unit, patience.answer).await {
            Ok(mut reading) => {
                live.connected(machine);
                poll(live, machine, &mut reading, blocks(live, machine, base), &mut wait).await
            }
            Err(why) => why,
        };
        live.lost(machine, why);
        wait.pass().await;
    }
}

/// Polls over one connection until it breaks; answers why.
async fn poll(
    live: &Live,
    machine: usize,
    reading: &mut Reading,
    mut blocks: Vec<Block>,
    wait: &mut Wait,
) -> Message {
    let mut next = Instant::now();
    loop {
        sleep_until(next).await;
        next += live.every(machine);
        // Up to a second is caught up with; after a longer stall it goes on from where it is.
        let now = Instant::now();
        if next + LONGEST_LAG < now {
            next = now;
        }
        let mut apart = Vec::new();
        for block in &blocks {
            match reading.read(block.table, block.from, block.count).await {
                Ok(words) => {
                    live.take(block.looks(&words));
                    wait.start_over();
                }
                Err(Trouble::Broken(why)) => return why,
                // One register that is not there must not hide its neighbours.
                Err(Trouble::Refused(_)) if 1 < block.parts.len() => apart.push(block.clone()),
                Err(Trouble::Refused(exception)) => {
                    let look = |part: &Part| Look {
                        point: part.point,
                        read: Err(outside(exception)),
                        registers: Vec::new(),
                        kept: false,
                    };
                    live.take(block.parts.iter().map(look).collect());
                }
            }
        }
        for block in apart {
            blocks.retain(|one| *one != block);
            blocks.extend(block.apart());
        }
    }
}
