// build.mjs makes what package engrave embeds, from the npm packages that package-lock.json pins by
// checksum: the engraving library as plain WebAssembly, the names of its functions, and the text font.
//
//   node build.mjs FOLDER
//
// Verovio ships its WebAssembly as one JavaScript string, built with the first form of WebAssembly
// exceptions, which wazero does not run. The exceptions are taken out: a C++ throw becomes a trap, and
// package engrave drops an instance that trapped. Then the module is made stoppable. Anybody can build a changed library with this script
// and give it to the program with --engraver (LGPL-3.0, section 4).
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import fs from 'node:fs';
import path from 'node:path';
import { gzipSync } from 'node:zlib';
import { stoppable } from './stoppable.mjs';

const here = import.meta.dirname;
const out = path.resolve(process.argv[2] ?? '.');
const sha256 = (b) => createHash('sha256').update(b).digest('hex');
const packaged = (...p) => path.join(here, 'node_modules', ...p);

// What goes in decides what comes out; where it is as last time, nothing is done.
const inputs = sha256(Buffer.concat(['package-lock.json', 'build.mjs', 'stoppable.mjs'].map((f) => fs.readFileSync(path.join(here, f)))));
const engine = path.join(out, 'engine.json');
if (fs.existsSync(engine)) {
  const had = JSON.parse(fs.readFileSync(engine, 'utf8'));
  const whole = Object.entries(had.files ?? {}).every(([name, sum]) => {
    const f = path.join(out, name);
    return fs.existsSync(f) && sha256(fs.readFileSync(f)) === sum;
  });
  if (had.inputs === inputs && whole) process.exit(0);
}

console.error('building the engraving library (half a minute, once)');
execFileSync('npm', ['ci', '--ignore-scripts', '--no-audit', '--no-fund', '--silent'], { cwd: here, stdio: 'inherit' });

const glue = fs.readFileSync(packaged('verovio', 'dist', 'verovio-module.mjs'), 'utf8');
const wasm = embeddedWasm(glue);
const names = { imports: imports(glue), exports: exports(glue) };

const work = fs.mkdtempSync(path.join(out, '.work-'));
try {
  const [before, after] = ['before.wasm', 'after.wasm'].map((f) => path.join(work, f));
  fs.writeFileSync(before, wasm);
  const features = ['exception-handling', 'bulk-memory', 'sign-ext', 'nontrapping-float-to-int', 'mutable-globals', 'multivalue', 'reference-types'];
  execFileSync(process.execPath, [packaged('binaryen', 'bin', 'wasm-opt'), before, '-o', after, '--strip-eh', '-O2',
    ...features.map((f) => '--enable-' + f)], { stdio: 'inherit' });
  const files = {};
  const put = (name, data) => {
    fs.writeFileSync(path.join(out, name), data);
    files[name] = sha256(data);
  };
  const stripped = stoppable(fs.readFileSync(after));
  if (!WebAssembly.validate(stripped)) throw new Error('what was made is no valid wasm');
  put('engine.wasm.gz', gzipSync(stripped, { level: 9 }));
  for (const [name, file] of [['Regular', '400Regular/Tinos_400Regular'], ['Italic', '400Regular_Italic/Tinos_400Regular_Italic'],
    ['Bold', '700Bold/Tinos_700Bold'], ['BoldItalic', '700Bold_Italic/Tinos_700Bold_Italic']]) {
    put(`Tinos-${name}.ttf.gz`, gzipSync(fs.readFileSync(packaged('@expo-google-fonts', 'tinos', file + '.ttf')), { level: 9 }));
  }
  const version = JSON.parse(fs.readFileSync(packaged('verovio', 'package.json'), 'utf8')).version;
  fs.writeFileSync(engine, JSON.stringify({ library: 'verovio', version, wasm_sha256: sha256(stripped), names, inputs, files }, null, 1) + '\n');
} finally {
  fs.rmSync(work, { recursive: true, force: true });
}

// embeddedWasm is the argument of the call of binaryDecode, turned into bytes as that function does.
function embeddedWasm(glue) {
  const open = "binaryDecode('";
  const from = glue.indexOf(open) + open.length - 1;
  if (from < open.length) throw new Error('verovio-module.mjs holds no embedded wasm: is this another version?');
  let to = from + 1;
  while (glue[to] !== "'") to += glue[to] === '\\' ? 2 : 1;
  const text = (0, eval)(glue.slice(from, to + 1)); // a plain string literal
  const bytes = Buffer.alloc(text.length);
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i);
    bytes[i] = (~c >> 8) & c;
  }
  if (!WebAssembly.validate(bytes)) throw new Error('what was taken out of verovio-module.mjs is no wasm');
  return bytes;
}

// imports maps the host functions' names to the short names of the module.
function imports(glue) {
  const list = /wasmImports=\{([^}]*)\}/.exec(glue)[1];
  return Object.fromEntries(list.split(',').map((pair) => pair.split(':').reverse()));
}

// exports maps the library's functions to the short names of the module.
function exports(glue) {
  const found = {};
  for (const [, long, short] of glue.matchAll(/\b(?:_vrvToolkit_|_)(\w+)=Module\["_\w+"\]=wasmExports\["(\S+?)"\]/g)) found[long] = short;
  found.memory = /memory=wasmMemory=wasmExports\["(\S+?)"\]/.exec(glue)[1];
  found.constructors = /TTY\.init\(\);wasmExports\["(\S+?)"\]\(\)/.exec(glue)[1];
  return found;
}
