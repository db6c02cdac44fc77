"""A Modbus TCP client by pymodbus against the practice plant, for the exam: run with a port and the values expected.

Every read must give its value, and every function that writes must be refused with exception 1.
"""

import struct
import sys

from pymodbus.client import ModbusTcpClient


def number(registers):
    """Two registers, the high word first, as a single float."""
    return struct.unpack(">f", struct.pack(">2H", *registers))[0]


port, expected = int(sys.argv[1]), [float(text) for text in sys.argv[2:]]
client = ModbusTcpClient("127.0.0.1", port=port)
assert client.connect(), "no connection"
for place, value in enumerate(expected):
    for read in (client.read_input_registers, client.read_holding_registers):
        answer = read(2 * place, count=2)
        assert not answer.isError(), answer
        assert abs(number(answer.registers) - value) <= 1e-6 * abs(value), (place, answer.registers, value)
writes = [
    client.write_coil(0, True),
    client.write_register(0, 1),
    client.write_coils(0, [True, False]),
    client.write_registers(0, [1, 2]),
    client.mask_write_register(address=0, and_mask=0, or_mask=1),
    client.readwrite_registers(read_address=0, read_count=1, write_address=0, values=[1]),
]
for answer in writes:
    assert answer.isError() and answer.exception_code == 1, answer
beyond = client.read_input_registers(2 * len(expected), count=2)
assert beyond.isError() and beyond.exception_code == 2, beyond
print(f"{len(expected)} values read, {len(writes)} writes refused")
