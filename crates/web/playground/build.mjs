// Bundles the playground's editor into crates/keyon/web/playground.js, which is committed.
import { build } from "esbuild";
await build({ entryPoints: ["playground.js"], bundle: true, minify: true, format: "iife", target: "es2022", charset: "utf8", legalComments: "none", outfile: "../../keyon/web/playground.js", logLevel: "warning" });
