#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A simulated serial bench meter on a pseudo-terminal, for one of libsigrok's own drivers.

    serial_meter.py CAPTURE.csv CHANNEL

Plays one channel of a rehearsed capture in real time, ten readings a second, as volts with two
decimals in packets of 14 bytes: each carries its number in the high half and a piece of a liquid
crystal display's segments in the low one. Prints the name of its port first. On SIGUSR1 it hangs up."""
import csv
import os
import pty
import signal
import sys
import time
import tty

SEGMENTS = [0x7D, 0x05, 0x5B, 0x1F, 0x27, 0x3E, 0x7E, 0x15, 0x7F, 0x3F]  # digits 0 to 9


def packet(volts):
    """0 to 99.99 V direct voltage."""
    data = [(i + 1) << 4 for i in range(14)]
    data[0] |= 0x5  # direct current, connected
    data[5] |= 8  # point after the second digit
    data[12] |= 4  # volt
    for i, digit in enumerate(f"{round(min(max(volts, 0), 99.99) * 100):04d}"):
        data[1 + 2 * i] |= SEGMENTS[int(digit)] >> 4
        data[2 + 2 * i] |= SEGMENTS[int(digit)] & 15
    return bytes(data)


def main():
    rows = list(csv.reader(line for line in open(sys.argv[1]) if line[0] not in "#;"))
    column = [name.split(" [")[0] for name in rows[0]].index(sys.argv[2])
    times = [float(row[0]) for row in rows[1:]]
    values = [float(row[column]) for row in rows[1:]]
    master, slave = pty.openpty()
    tty.setraw(slave)
    signal.signal(signal.SIGUSR1, lambda *_: (os.close(master), os._exit(0)))
    print(os.ttyname(slave), flush=True)
    os.set_blocking(master, False)
    start = time.monotonic()
    while True:
        index = int((time.monotonic() - start) / (times[1] - times[0]))
        try:
            os.write(master, packet(values[min(index, len(values) - 1)]))
        except BlockingIOError:  # nobody listens yet
            pass
        time.sleep(0.1)


if __name__ == "__main__":
    main()
