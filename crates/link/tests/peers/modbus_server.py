"""A Modbus TCP server by pymodbus with known values in every table, for the exam: run with a port."""

import asyncio
import struct
import sys

from pymodbus.datastore import ModbusDeviceContext, ModbusSequentialDataBlock, ModbusServerContext
from pymodbus.server import StartAsyncTcpServer


def words(form, value):
    """A number as registers, the high word first."""
    raw = struct.pack(form, value)
    return list(struct.unpack(f">{len(raw) // 2}H", raw))


def registers(first):
    """Values from address 0 on: f32, the same with its low word first, i16, u32, f64, i32."""
    high = words(">f", first)
    return high + high[::-1] + [65536 - 125] + words(">I", 123456) + words(">d", -1.5) + words(">i", -70000)


async def main():
    # Blocks of this library begin at address 1: it counts as makers' lists do.
    device = ModbusDeviceContext(
        ir=ModbusSequentialDataBlock(1, registers(23.25)),
        hr=ModbusSequentialDataBlock(1, registers(-4.5)),
        co=ModbusSequentialDataBlock(1, [True, False, True]),
        di=ModbusSequentialDataBlock(1, [False, True, False]),
    )
    context = ModbusServerContext(devices=device, single=True)
    await StartAsyncTcpServer(context=context, address=("127.0.0.1", int(sys.argv[1])))


asyncio.run(main())
