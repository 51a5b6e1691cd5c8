// Runs Python files in real MicroPython: node run.mjs SCRIPT MODULE... ; what the script prints comes back on stdout.
import { readFileSync } from "node:fs";
import { basename } from "node:path";
import { loadMicroPython } from "@micropython/micropython-webassembly-pyscript/micropython.mjs";

const [script, ...modules] = process.argv.slice(2);
const micropython = await loadMicroPython({ stdout: (line) => console.log(line), linebuffer: true });
for (const module of modules) micropython.FS.writeFile("/" + basename(module), readFileSync(module));
micropython.runPython("import sys; sys.path.append('/')");
micropython.runPython(readFileSync(script, "utf8"));
