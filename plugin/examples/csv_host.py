#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A host in Python, standard library only: a CSV with a time column in, the events' bytes out.

    csv_host.py LIBAIRLATCH.so CAPTURE.csv RATE_HZ [RIG]

RATE_HZ 0 takes the times of the first column. Prints each event as one line of hexadecimal bytes (a serialised airlatch.v1.Event)."""
import ctypes as c
import csv
import sys

EVENT_FN = c.CFUNCTYPE(None, c.POINTER(c.c_ubyte), c.c_size_t, c.c_void_p)


class Channel(c.Structure):
    _fields_ = [("name", c.c_char_p), ("flags", c.c_uint32)]


class Options(c.Structure):
    _fields_ = [
        ("struct_size", c.c_size_t),
        ("rig", c.c_char_p), ("rig_size", c.c_size_t),
        ("plan", c.c_char_p), ("plan_size", c.c_size_t),
        ("format", c.c_uint32), ("channel_size", c.c_size_t),
        ("channels", c.POINTER(Channel)), ("channel_count", c.c_size_t),
        ("on_event", EVENT_FN), ("context", c.c_void_p)]


class Block(c.Structure):
    _fields_ = [
        ("struct_size", c.c_size_t), ("channel", c.c_uint32), ("start_ns", c.c_int64),
        ("period_num_ns", c.c_int64), ("period_den", c.c_int64),
        ("times_ns", c.POINTER(c.c_int64)), ("floats", c.POINTER(c.c_float)),
        ("doubles", c.POINTER(c.c_double)), ("count", c.c_size_t)]


def main(library, capture, rate_hz, rig_file=None):
    lib = c.CDLL(library)
    lib.airlatch_last_error.restype = c.c_char_p
    lib.airlatch_last_error.argtypes = [c.c_void_p]
    with open(capture, newline="") as file:
        rows = csv.reader(file)
        names = next(rows)[1:]
        times, columns = [], [[] for _ in names]
        for row in rows:
            seconds = float(row[0])
            times.append(int(seconds * 1e9 + (-0.5 if seconds < 0 else 0.5)))
            for column, cell in zip(columns, row[1:]):
                column.append(float(cell))
    rig = open(rig_file, "rb").read() if rig_file else b""
    channels = (Channel * len(names))(*[Channel(name.encode(), 0) for name in names])

    @EVENT_FN
    def on_event(event, size, _context):
        print(bytes(event[:size]).hex())

    options = Options(c.sizeof(Options), rig or None, len(rig), None, 0, 0, c.sizeof(Channel),
                      channels, len(names), on_event, None)
    decoder = c.c_void_p()
    if lib.airlatch_create(c.byref(options), c.byref(decoder)) != 0:
        sys.exit("csv_host.py: " + lib.airlatch_last_error(None).decode())
    stamps = (c.c_int64 * len(times))(*times)
    for index, column in enumerate(columns):
        values = (c.c_double * len(column))(*column)
        if int(rate_hz) > 0:
            block = Block(c.sizeof(Block), index, 0, 10**9, int(rate_hz), None, None, values,
                          len(column))
        else:
            block = Block(c.sizeof(Block), index, 0, 0, 0, stamps, None, values, len(column))
        if lib.airlatch_push(decoder, c.byref(block)) != 0:
            sys.exit("csv_host.py: " + lib.airlatch_last_error(decoder).decode())
    lib.airlatch_finish(decoder)
    lib.airlatch_destroy(decoder)


if __name__ == "__main__":
    if len(sys.argv) < 4:
        sys.exit("csv_host.py LIBAIRLATCH.so CAPTURE.csv RATE_HZ [RIG]")
    main(*sys.argv[1:5])
