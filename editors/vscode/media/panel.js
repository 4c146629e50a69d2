// The diagram's page: shows what the extension sends, zooms, and tells which thing was clicked.
(() => {
  const editor = acquireVsCodeApi();
  const $ = (id) => document.getElementById(id);
  const sheet = document.querySelector("figure");
  // Of which document, and how big; zero: as wide as the panel.
  let { uri, zoom = 0 } = editor.getState() ?? {};
  const keep = () => editor.setState({ uri, zoom });

  const natural = (svg) => svg.viewBox.baseVal.width || svg.clientWidth || 1;
  const fitted = (svg) => Math.min(sheet.clientWidth / natural(svg), 1.5);
  const resize = () => {
    const svg = sheet.querySelector("svg");
    if (!svg) return;
    const scale = zoom || fitted(svg);
    svg.setAttribute("width", String(natural(svg) * scale));
    svg.setAttribute("height", String((svg.viewBox.baseVal.height || 1) * scale));
    $("size").textContent = `${Math.round(scale * 100)} %`;
  };
  /** Zooms about a place of the sheet, which stays where it is. */
  const zoomTo = (factor, x = sheet.clientWidth / 2, y = sheet.clientHeight / 2) => {
    const svg = sheet.querySelector("svg");
    if (!svg) return;
    const before = zoom || fitted(svg);
    zoom = Math.max(0.1, Math.min(6, before * factor));
    const [left, top] = [(sheet.scrollLeft + x) * (zoom / before) - x, (sheet.scrollTop + y) * (zoom / before) - y];
    resize();
    sheet.scrollTo(left, top);
    keep();
  };
  $("closer").onclick = () => zoomTo(1.25);
  $("further").onclick = () => zoomTo(0.8);
  $("fit").onclick = () => { zoom = 0; keep(); resize(); };
  sheet.addEventListener("wheel", (event) => {
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      const { left, top } = sheet.getBoundingClientRect();
      zoomTo(Math.exp(-event.deltaY / 400), event.clientX - left, event.clientY - top);
    }
  }, { passive: false });
  new ResizeObserver(resize).observe(sheet);

  /** The names stand in bold type; a symbol is called by the one nearest to it. */
  const nameAt = (event) => {
    const at = event.target.closest?.("[data-at]")?.getAttribute("data-at");
    if (at) return at;
    let best = 70;
    let name;
    for (const text of sheet.querySelectorAll("text[font-weight='700'][font-size='10']")) {
      const { left, right, top, bottom } = text.getBoundingClientRect();
      const scale = sheet.querySelector("svg").clientWidth / natural(sheet.querySelector("svg")) || 1;
      const away = Math.hypot(Math.max(left - event.clientX, 0, event.clientX - right), Math.max(top - event.clientY, 0, event.clientY - bottom)) / scale;
      if (away < best) [best, name] = [away, text.textContent.trim().split(/\s/)[0]];
    }
    return name;
  };
  // Dragging moves the sheet; what was dragged is not clicked.
  let held;
  sheet.addEventListener("pointerdown", (event) => { held = event.button === 0 && { x: event.clientX, y: event.clientY, left: sheet.scrollLeft, top: sheet.scrollTop, moved: false }; });
  sheet.addEventListener("pointermove", (event) => {
    if (!held) return;
    const [dx, dy] = [event.clientX - held.x, event.clientY - held.y];
    held.moved ||= Math.hypot(dx, dy) > 4;
    if (held.moved) sheet.scrollTo(held.left - dx, held.top - dy);
  });
  window.addEventListener("pointerup", (event) => {
    if (held && !held.moved && sheet.contains(event.target)) {
      const name = nameAt(event);
      if (name) editor.postMessage({ reveal: name });
    }
    held = undefined;
  });

  const options = (select, names, chosen) => {
    select.replaceChildren(...names.map(([value, label]) => new Option(label, value, false, value === chosen)));
    select.value = chosen;
  };
  $("scenario").onchange = () => editor.postMessage({ hold: $("scenario").value });
  $("view").onchange = () => editor.postMessage({ view: $("view").value });

  window.addEventListener("message", ({ data }) => {
    document.body.classList.toggle("own", data.view === "colours");
    // Another document begins as a whole; the same one stays where it was looked at.
    const [left, top] = data.uri === uri ? [sheet.scrollLeft, sheet.scrollTop] : [0, 0];
    if (data.uri !== uri) [uri, zoom] = [data.uri, 0];
    keep();
    sheet.innerHTML = data.svg;
    $("table").innerHTML = data.table;
    for (const wire of sheet.querySelectorAll("[data-at]")) {
      const title = document.createElementNS("http://www.w3.org/2000/svg", "title");
      title.textContent = wire.getAttribute("data-at");
      wire.append(title);
    }
    for (const text of sheet.querySelectorAll("text[font-weight='700'][font-size='10']")) text.classList.add("named");
    resize();
    sheet.scrollTo(left, top);
    options($("scenario"), [...(data.held ? [] : [["", "at rest"]]), ...data.scenarios.map((s) => [s, s])], data.held ?? "");
    $("scenario").parentElement.hidden = !data.scenarios.length;
    $("view").value = data.view;
  });
  editor.postMessage({ ready: true });
})();
