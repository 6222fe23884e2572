#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A host in Python with a protobuf of its own: reads the plugin's events with its own messages while
the plugin works, and prints them as protobuf_host.cpp does.

    protobuf_host.py LIBAIRLATCH.so PROTO_FOLDER

Needs protoc and Python's protobuf. Fails where Python would have written other bytes."""
import ctypes as c
import math
import os
import subprocess
import sys
import tempfile

SAMPLES = 12000
NAMES = (b"feed_a_v", b"motor_a", b"line_kpa")
HERE = os.path.dirname(os.path.abspath(__file__))
sys.dont_write_bytecode = True
sys.path.insert(0, os.path.join(HERE, "../../../plugin/examples"))
from csv_host import EVENT_FN, Block, Channel, Options  # noqa: E402


def own_messages(folder):
    """The modules that protoc makes of the .proto files."""
    with tempfile.TemporaryDirectory() as made:
        files = ["event.proto", "sample.proto", "setup.proto", "report.proto"]
        subprocess.run(["protoc", "-I", folder, "--python_out", made]
                       + [os.path.join("airlatch/v1", name) for name in files], check=True)
        sys.path.insert(0, made)
        from airlatch.v1 import event_pb2, report_pb2
    return event_pb2, report_pb2


def drawn(channel):
    """The run of drawn_run.h."""
    full_kpa = 50 * (1 - math.exp(-3 / 0.8))
    for k in range(SAMPLES):
        fed_s, left_s = k / 1000 - 1, k / 1000 - 4
        if fed_s < 0:
            yield 0.0
        elif channel == 0:
            yield 12.0 if left_s < 0 else 0.0
        elif channel == 1:
            yield 4 + 8 * math.exp(-fed_s / 0.05) if left_s < 0 else 0.0
        elif left_s < 0:
            yield 50 * (1 - math.exp(-fed_s / 0.8))
        else:
            yield full_kpa * math.exp(-left_s / 60)


def parsed(message, whole):
    message.ParseFromString(whole)
    assert message.SerializeToString(deterministic=True) == whole, "Python writes other bytes"
    return message


def main(library, protos):
    event_pb2, report_pb2 = own_messages(protos)
    lib = c.CDLL(library)
    lib.airlatch_last_error.restype = c.c_char_p
    lines, wrong = [], []

    @EVENT_FN
    def on_event(data, size, _context):
        try:  # an exception does not leave a callback of ctypes
            event = parsed(event_pb2.Event(), bytes(data[:size]))
            lines.append("%s %.6f %d measures" % (event_pb2.Kind.Name(event.kind), event.time_s,
                                                  len(event.measures)))
        except Exception as error:
            wrong.append(error)

    def need(status, what):
        if status != 0:
            sys.exit("protobuf_host.py: %s: %s" % (what, lib.airlatch_last_error(None).decode()))

    rig = (b'channel { source: "line_kpa" role: LINE_PRESSURE u_abs: 0.25 } line_volume_ml: 250')
    channels = (Channel * len(NAMES))(*[Channel(name, 0) for name in NAMES])
    options = Options(c.sizeof(Options), rig, len(rig), None, 0, 0, c.sizeof(Channel), channels,
                      len(NAMES), on_event, None)
    decoder, report, size = c.c_void_p(), c.c_void_p(), c.c_size_t()
    need(lib.airlatch_create(c.byref(options), c.byref(decoder)), "create")
    for index in range(len(NAMES)):
        values = (c.c_float * SAMPLES)(*drawn(index))
        block = Block(c.sizeof(Block), index, 0, 10**6, 1, None, values, None, SAMPLES)
        need(lib.airlatch_push(decoder, c.byref(block)), "push")
    need(lib.airlatch_finish(decoder), "finish")
    need(lib.airlatch_report(decoder, c.byref(report), c.byref(size)), "report")
    whole = parsed(report_pb2.Report(), c.string_at(report.value, size.value))
    need(lib.airlatch_destroy(decoder), "destroy")
    if wrong:
        raise wrong[0]
    assert len(whole.events) == len(lines)
    print("\n".join(lines))


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit("protobuf_host.py LIBAIRLATCH.so PROTO_FOLDER")
    main(*sys.argv[1:3])
