// Draws curves with bands as plain SVG text.  One drawing for screen, guest page and export.
(() => {
  // colour-blind safe, checked for 3:1 against paper and dark steel; dashes tell them apart as well
  const TONES = {
    light: ["#16437e", "#a3470b", "#1c6638", "#7a2d84", "#00696e", "#8a1f3d", "#5a5a12", "#44505e"],
    dark: ["#93bdf7", "#f1a36b", "#86d5a0", "#d9a5e6", "#6fd3d8", "#f59ab0", "#d3d06d", "#b3bbc5"],
  };
  const INK = {
    light: { ink: "#1b222c", soft: "#4b5563", line: "#d8d3c6", sheet: "#fffdf8" },
    dark: { ink: "#ecebe5", soft: "#b3bbc5", line: "#36414c", sheet: "#1a2128" },
    print: { ink: "#000000", soft: "#333333", line: "#cccccc", sheet: "#ffffff" },
  };
  const DASHES = ["", "9 5", "3 4", "12 4 3 4", "6 3", "2 3", "14 5", "5 2 2 2"];
  const esc = (s) => String(s).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
  const tone = (i, theme) => (TONES[theme] || TONES.light)[i % 8];

  function ticks(low, high, wanted) {
    const raw = (high - low) / Math.max(1, wanted);
    const power = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 2.5, 5, 10].map((m) => m * power).find((s) => s >= raw * 0.999);
    const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9) + (Math.abs((step / power) % 1) > 1e-9 ? 1 : 0));
    const out = [];
    for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + step * 1e-6; v += step) out.push(v);
    return { out, step, text: (v) => v.toFixed(digits).replace(/^-0(\.0+)?$/, "0").replace("-", "\u2212") };
  }

  function range(series, from, fixed) {
    let low = Infinity, high = -Infinity;
    for (const s of series) {
      for (const key of from) for (const v of s[key] || []) {
        if (v === null || !Number.isFinite(v)) continue;
        low = Math.min(low, v);
        high = Math.max(high, v);
      }
    }
    if (!Number.isFinite(low)) [low, high] = [0, 1];
    if (fixed.min !== null && fixed.min !== undefined) low = Math.min(low, fixed.min);
    if (fixed.max !== null && fixed.max !== undefined) high = Math.max(high, fixed.max);
    if (high - low < 1e-12) high = low + 1;
    return [low, high];
  }

  // Geometry shared by drawing and pointing: pixel <-> value.
  function layout(spec, width, height, text) {
    const shown = spec.series.filter((s) => !s.hidden);
    const [x0, x1] = range(shown.length ? shown : spec.series, ["x"], spec.x);
    let [y0, y1] = range(shown.length ? shown : spec.series, ["y", "low", "high"], spec.y);
    const air = (y1 - y0) * 0.05;
    if (spec.y.min === null || spec.y.min === undefined || y0 < spec.y.min) y0 -= air;
    y1 += air;
    const box = { left: text * 4.1, right: width - text * 1.5, top: text * 0.9, bottom: height - text * 3.3 };
    return {
      box, x0, x1, y0, y1,
      px: (v) => box.left + ((v - x0) / (x1 - x0)) * (box.right - box.left),
      py: (v) => box.bottom - ((v - y0) / (y1 - y0)) * (box.bottom - box.top),
    };
  }

  function line(x, y, L) {
    let d = "", pen = false;
    x.forEach((v, i) => {
      if (y[i] === null || y[i] === undefined || !Number.isFinite(y[i])) { pen = false; return; }
      d += `${pen ? "L" : "M"}${L.px(v).toFixed(1)} ${L.py(y[i]).toFixed(1)}`;
      pen = true;
    });
    return d;
  }

  function band(s, L) {
    const at = s.x.map((v, i) => i).filter((i) => Number.isFinite(s.low[i]) && Number.isFinite(s.high[i]) && s.low[i] !== null && s.high[i] !== null);
    if (at.length < 2) return "";
    const point = (i, y) => `${L.px(s.x[i]).toFixed(1)} ${L.py(y[i]).toFixed(1)}`;
    return `M${at.map((i) => point(i, s.high)).join("L")}L${[...at].reverse().map((i) => point(i, s.low)).join("L")}Z`;
  }

  // spec: {title, x, y, series}; options: width, height, theme ("light", "dark"), print, text (px), legend, footer
  function draw(spec, { width, height, theme = "light", print = false, text = 15, legend = false, footer = "" }) {
    const ink = print ? INK.print : INK[theme];
    const palette = print ? "light" : theme;
    const rows = legend ? spec.series.filter((s) => !s.hidden && s.name) : [];
    const head = legend ? text * 2.2 : 0;
    const foot = (legend ? Math.ceil(rows.length / 3) * text * 1.5 + text * 0.6 : 0) + (footer ? text * 1.6 : 0);
    const L = layout(spec, width, height - head - foot, text);
    const { box } = L;
    const out = [];
    const put = (s) => out.push(s);
    const write = (x, y, words, more = "") =>
      put(`<text x="${x.toFixed(1)}" y="${y.toFixed(1)}" font-size="${text}" fill="${ink.ink}" ${more}>${esc(words)}</text>`);
    const tx = ticks(L.x0, L.x1, (box.right - box.left) / (text * 5));
    const ty = ticks(L.y0, L.y1, (box.bottom - box.top) / (text * 3.2));
    for (const v of tx.out) {
      put(`<line x1="${L.px(v)}" x2="${L.px(v)}" y1="${box.top}" y2="${box.bottom}" stroke="${ink.line}" />`);
      write(L.px(v), box.bottom + text * 1.3, tx.text(v), 'text-anchor="middle"');
    }
    for (const v of ty.out) {
      put(`<line x1="${box.left}" x2="${box.right}" y1="${L.py(v)}" y2="${L.py(v)}" stroke="${ink.line}" />`);
      write(box.left - text * 0.5, L.py(v) + text * 0.35, ty.text(v), 'text-anchor="end"');
    }
    if (L.y0 < 0 && L.y1 > 0) put(`<line x1="${box.left}" x2="${box.right}" y1="${L.py(0)}" y2="${L.py(0)}" stroke="${ink.ink}" stroke-width="1.5" />`);
    put(`<path d="M${box.left} ${box.top}V${box.bottom}H${box.right}" fill="none" stroke="${ink.soft}" stroke-width="1.5" />`);
    write((box.left + box.right) / 2, box.bottom + text * 2.9, `${spec.x.label}${spec.x.unit ? ` [${spec.x.unit}]` : ""}`, 'text-anchor="middle"');
    const middle = (box.top + box.bottom) / 2;
    write(text, middle, `${spec.y.label}${spec.y.unit ? ` [${spec.y.unit}]` : ""}`, `text-anchor="middle" transform="rotate(-90 ${text} ${middle.toFixed(1)})"`);
    const order = [...spec.series].sort((a, b) => (b.quiet ? 1 : 0) - (a.quiet ? 1 : 0));
    for (const s of order) {
      if (s.hidden) continue;
      const colour = s.quiet ? ink.soft : tone(s.tone, palette);
      const d = s.low && s.high ? band(s, L) : "";
      if (d) put(`<path d="${d}" fill="${colour}" fill-opacity="${s.quiet ? 0.08 : 0.18}" />`);
      if (!s.points_only) {
        put(`<path d="${line(s.x, s.y, L)}" fill="none" stroke="${colour}" stroke-width="${s.quiet ? 1.2 : 2.6}" stroke-opacity="${s.quiet ? 0.55 : 1}" stroke-linejoin="round" stroke-dasharray="${DASHES[(s.dash || 0) % 8]}" />`);
      }
      if (s.points) s.x.forEach((v, i) => {
        if (Number.isFinite(s.y[i]) && s.y[i] !== null) put(`<circle cx="${L.px(v).toFixed(1)}" cy="${L.py(s.y[i]).toFixed(1)}" r="${s.quiet ? 2.5 : 4.2}" fill="${colour}" stroke="${ink.sheet}" stroke-width="1.2" />`);
      });
      (s.marks || []).forEach((m) => {
        put(`<g><circle cx="${L.px(m.x)}" cy="${L.py(m.y)}" r="9" fill="none" stroke="${ink.ink}" stroke-width="2.2" /><title>${esc(m.text)}</title></g>`);
      });
    }
    const keys = [];
    rows.forEach((s, i) => {
      const x = box.left + (i % 3) * ((width - box.left) / 3);
      const y = height - foot - head + text * (1.4 + 1.5 * Math.floor(i / 3));
      const colour = s.quiet ? ink.soft : tone(s.tone, palette);
      keys.push(`<line x1="${x}" x2="${x + text * 2}" y1="${y - text * 0.35}" y2="${y - text * 0.35}" stroke="${colour}" stroke-width="3" stroke-dasharray="${DASHES[(s.dash || 0) % 8]}" />`);
      keys.push(`<text x="${x + text * 2.5}" y="${y}" font-size="${text}" fill="${ink.ink}">${esc(s.name)}</text>`);
    });
    const title = head ? `<text x="${box.left}" y="${text * 1.5}" font-size="${text * 1.15}" font-weight="600" fill="${ink.ink}">${esc(spec.title)}</text>` : "";
    const under = footer ? `<text x="${box.left}" y="${height - text * 0.5}" font-size="${text * 0.85}" fill="${ink.soft}">${esc(footer)}</text>` : "";
    const ground = print ? `<rect width="${width}" height="${height}" fill="#ffffff" />` : "";
    return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="Segoe UI, Helvetica, Arial, sans-serif">${ground}${title}<g transform="translate(0 ${head})">${out.join("")}${keys.join("")}</g>${under}</svg>`;
  }

  function keep(name, blob) {
    const a = document.createElement("a");
    a.href = URL.createObjectURL(blob);
    a.download = name;
    a.click();
    setTimeout(() => URL.revokeObjectURL(a.href), 10000);
  }

  // 180 x 120 mm at 300 dots per inch for PNG; SVG has no resolution.
  function exportAs(kind, spec) {
    const width = 1063, height = 709;
    const svg = draw(spec, { width, height, print: true, text: 17, legend: true, footer: spec.footer || "" });
    const name = (spec.title || "curve").replace(/[^\w -]+/g, "").trim().replace(/\s+/g, "-").slice(0, 60) || "curve";
    if (kind === "svg") return keep(`${name}.svg`, new Blob([svg], { type: "image/svg+xml" }));
    const image = new Image();
    image.onload = () => {
      const canvas = Object.assign(document.createElement("canvas"), { width: width * 2, height: height * 2 });
      canvas.getContext("2d").drawImage(image, 0, 0, width * 2, height * 2);
      canvas.toBlob((blob) => keep(`${name}.png`, blob), "image/png");
    };
    image.src = "data:image/svg+xml;charset=utf-8," + encodeURIComponent(svg);
  }

  window.portwrightChart = { draw, layout, tone, exportAs, dashes: DASHES };
})();
