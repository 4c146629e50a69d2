import { Uri, Webview } from "vscode";

/** What the diagram's page is told. */
export interface Shown { uri: string; svg: string; table: string; view: string; held: string | null; scenarios: string[] }

/** What it tells. */
export interface Told { ready?: boolean; reveal?: string; hold?: string; view?: string }

/** The diagram's page, empty: what it shows is sent to it. */
export function page(webview: Webview, media: Uri): string {
  const file = (name: string) => webview.asWebviewUri(Uri.joinPath(media, name)).toString();
  return `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src ${webview.cspSource}; script-src ${webview.cspSource}">
<link rel="stylesheet" href="${file("panel.css")}"></head><body>
<header>
<label hidden>State <select id="scenario" title="The scenario that is held"></select></label>
<label>Wires show <select id="view"><option value="state">what they carry</option><option value="colours">their colours</option><option value="plain">nothing</option></select></label>
<span><button id="further" title="Smaller (Ctrl and wheel)">\u2212</button><button id="size" disabled></button><button id="closer" title="Bigger (Ctrl and wheel)">+</button><button id="fit" title="As wide as the panel">Fit</button></span>
</header>
<figure></figure><section id="table"></section>
<script src="${file("panel.js")}"></script></body></html>`;
}
