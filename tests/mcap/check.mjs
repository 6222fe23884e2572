// SPDX-License-Identifier: GPL-3.0-or-later
// A recording opened with the reference reader: schemas resolve, counts and values equal ours.
// node check.mjs RECORDING.mcap EXPORT.csv
import { McapIndexedReader } from "@mcap/core";
import descriptor from "protobufjs/ext/descriptor/index.js";
import protobuf from "protobufjs";
import { open } from "node:fs/promises";
import { readFileSync } from "node:fs";

const [recording, csv] = process.argv.slice(2);
const file = await open(recording, "r");
const readable = {
  size: async () => BigInt((await file.stat()).size),
  read: async (offset, size) => {
    const bytes = new Uint8Array(Number(size));
    await file.read(bytes, 0, bytes.length, Number(offset));
    return bytes;
  },
};
const reader = await McapIndexedReader.Initialize({ readable });
const types = new Map();
for (const schema of reader.schemasById.values()) {
  const root = protobuf.Root.fromDescriptor(descriptor.FileDescriptorSet.decode(schema.data));
  types.set(schema.id, root.lookupType(schema.name));
}
const values = new Map();
let messages = 0n;
for await (const message of reader.readMessages()) {
  messages += 1n;
  const channel = reader.channelsById.get(message.channelId);
  const decoded = types.get(channel.schemaId).decode(message.data);
  if (!channel.topic.startsWith("/samples/")) continue;
  const name = channel.topic.slice("/samples/".length);
  if (!values.has(name)) values.set(name, []);
  values.get(name).push(...decoded.values);
}
const fail = (what) => { console.log("FAILED " + what); process.exit(1); };
if (messages !== reader.statistics.messageCount) fail(`messages ${messages} of ${reader.statistics.messageCount}`);
const rows = readFileSync(csv, "utf8").trim().split("\n").map((row) => row.split(","));
rows[0].slice(1).forEach((header, k) => {
  const name = header.split(" [")[0];
  const ours = rows.slice(1).map((row) => row[k + 1]).filter((cell) => cell !== "");
  const theirs = values.get(name) ?? [];
  if (ours.length !== theirs.length) fail(`${name}: ${ours.length} values here, ${theirs.length} there`);
  ours.forEach((cell, i) => {
    if (Math.fround(Number(cell)) !== Math.fround(theirs[i])) fail(`${name}: value ${i}: ${cell}, ${theirs[i]}`);
  });
});
console.log(`${messages} messages, ${types.size} schemas, ${[...values.values()].reduce((n, v) => n + v.length, 0)} values: the same`);
