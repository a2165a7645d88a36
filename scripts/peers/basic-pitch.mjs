// Hears raw files (32-bit floats, mono, 22,050 Hz) with basic-pitch and prints one line of JSON for
// each: {"file", "seconds", "notes": [[onset_s, midi], …]}. Usage: node basic-pitch.mjs FILE…
import { createRequire } from "node:module";
import fs from "node:fs";
import path from "node:path";

const require = createRequire(import.meta.url);
const tf = require("@tensorflow/tfjs");
const wasm = require("@tensorflow/tfjs-backend-wasm");
const { BasicPitch, noteFramesToTime, addPitchBendsToNoteEvents, outputToNotesPoly } = require("@spotify/basic-pitch");

wasm.setWasmPaths(path.dirname(require.resolve("@tensorflow/tfjs-backend-wasm")) + path.sep);
// The model calls Fill without a type, which this backend's own kernel refuses; the plain backend
// would take minutes.
tf.unregisterKernel("Fill", "wasm");
tf.registerKernel({
  kernelName: "Fill",
  backendName: "wasm",
  kernelFunc: ({ backend, attrs: { shape, value, dtype } }) => {
    const out = backend.makeOutput(shape, dtype ?? "float32");
    backend.typedArrayFromHeap(out).fill(value);
    return out;
  },
});
await tf.setBackend("wasm");
await tf.ready();

const folder = path.join(path.dirname(require.resolve("@spotify/basic-pitch/package.json")), "model");
const described = JSON.parse(fs.readFileSync(path.join(folder, "model.json"), "utf8"));
const weights = described.weightsManifest.flatMap((group) => group.weights);
const bytes = Buffer.concat(described.weightsManifest.flatMap((g) => g.paths).map((p) => fs.readFileSync(path.join(folder, p))));
const model = await tf.loadGraphModel({
  load: async () => ({
    modelTopology: described.modelTopology,
    weightSpecs: weights,
    weightData: bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length),
    format: described.format,
  }),
});
const listener = new BasicPitch(Promise.resolve(model));

for (const file of process.argv.slice(2)) {
  const raw = fs.readFileSync(file);
  const sound = new Float32Array(raw.buffer, raw.byteOffset, raw.length >> 2);
  const frames = [], onsets = [], contours = [];
  const begun = performance.now();
  await listener.evaluateModel(new Float32Array(sound), (f, o, c) => { frames.push(...f); onsets.push(...o); contours.push(...c); }, () => {});
  // Default thresholds: those of its README (0.25, 0.25) add so many notes that every figure is lower.
  const notes = noteFramesToTime(addPitchBendsToNoteEvents(contours, outputToNotesPoly(frames, onsets)));
  tf.disposeVariables();
  const seconds = (performance.now() - begun) / 1000;
  console.log(JSON.stringify({ file, seconds, notes: notes.map((n) => [n.startTimeSeconds, n.pitchMidi]) }));
}
