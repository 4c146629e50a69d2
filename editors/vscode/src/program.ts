import { existsSync } from "node:fs";
import * as path from "node:path";
import { ExtensionContext, workspace } from "vscode";

/** The `keyon` program: from the settings, from the package, else by its name from the PATH. */
export function program(context: ExtensionContext): string {
  const configured = workspace.getConfiguration("keyon").get<string>("server.path", "").trim();
  if (configured) {
    return configured.replace(/^~(?=[\\/])/, process.env.HOME ?? "~");
  }
  const name = process.platform === "win32" ? "keyon.exe" : "keyon";
  const bundled = path.join(context.extensionPath, "server", name);
  return existsSync(bundled) ? bundled : name;
}
