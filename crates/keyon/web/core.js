// The core, as the terminal has it, in this page: text in, text out.
const core = (() => {
  let exports;
  const bytes = (base64) => Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
  const start = async (base64) => {
    const packed = new Blob([bytes(base64)]).stream().pipeThrough(new DecompressionStream("gzip"));
    const module = await WebAssembly.compile(await new Response(packed).arrayBuffer());
    const fresh = async () => { exports = (await WebAssembly.instantiate(module, {})).exports; };
    await fresh();
    return fresh;
  };
  const ask = (request) => {
    const text = new TextEncoder().encode(JSON.stringify(request));
    const at = exports.keyon_alloc(text.length);
    new Uint8Array(exports.memory.buffer, at, text.length).set(text);
    const answer = exports.keyon_call(at, text.length);
    const length = new DataView(exports.memory.buffer).getUint32(answer, true);
    const json = new TextDecoder().decode(new Uint8Array(exports.memory.buffer, answer + 4, length));
    exports.keyon_free(answer, length + 4);
    return JSON.parse(json);
  };
  return { start, ask };
})();
