"use strict";
// What a page can do beyond its print: values under the pointer, hiding a cylinder, copying a table, jumping from a
// notice to its moment. Everything is read from the page itself; without scripts nothing is missing but comfort.
(() => {
  const SVG = "http://www.w3.org/2000/svg";
  const make = (tag, text, cls) => {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (cls) e.className = cls;
    return e;
  };
  const clock = s => {
    const t = Math.max(0, Math.round(s)), two = n => String(n).padStart(2, "0");
    return t < 3600 ? `${Math.floor(t / 60)}:${two(t % 60)}` : `${Math.floor(t / 3600)}:${two(Math.floor(t / 60) % 60)}:${two(t % 60)}`;
  };
  const plain = (v, d) => v.toFixed(d).replace("-", "\u2212");

  // Points of a path that was written as steps.
  const points = path => {
    const n = path.getAttribute("d").match(/-?\d+/g).map(Number), out = [];
    let x = 0, y = 0;
    for (let i = 0; i + 1 < n.length; i += 2) { x += n[i]; y += n[i + 1]; out.push([x, y]); }
    return out;
  };

  // Lines of a figure: cylinder (or none) and points; markers and other small outlines are left out.
  const lines = svg => [...svg.querySelectorAll("path[fill=none]")].map(p => {
    const c = /cy(\d+)/.exec(p.getAttribute("class") || "");
    return { cylinder: c ? +c[1] : 0, at: points(p) };
  }).filter(l => l.at[l.at.length - 1][0] - l.at[0][0] > 200);

  const near = (at, x) => {
    let lo = 0, hi = at.length - 1;
    if (x < at[0][0] - 15 || x > at[hi][0] + 15) return null;
    while (hi - lo > 1) { const mid = (lo + hi) >> 1; if (at[mid][0] <= x) lo = mid; else hi = mid; }
    return Math.abs(at[lo][0] - x) <= Math.abs(at[hi][0] - x) ? at[lo] : at[hi];
  };

  const readers = new Map();
  const reader = svg => {
    const axis = JSON.parse(svg.dataset.axis), panels = JSON.parse(svg.dataset.panels), all = lines(svg);
    const cursor = document.createElementNS(SVG, "line");
    cursor.setAttribute("class", "cursor");
    svg.append(cursor);
    const out = svg.parentNode.querySelector("output");
    let place = axis.from;
    const show = px => {
      place = Math.min(axis.to, Math.max(axis.from, px));
      cursor.setAttribute("x1", place); cursor.setAttribute("x2", place);
      cursor.setAttribute("y1", panels[0].y0); cursor.setAttribute("y2", panels[panels.length - 1].y1);
      const value = axis.low + (place - axis.from) / (axis.to - axis.from) * (axis.high - axis.low);
      const parts = [axis.time ? clock(value) : `${plain(value, 0)}\u00b0`];
      for (const p of panels) {
        const found = new Map();
        for (const l of all) {
          const at = near(l.at, place);
          if (!at || at[1] < p.y0 - 5 || at[1] > p.y1 + 5 || found.has(l.cylinder)) continue;
          const mid = l.at[0][1]; // a line belongs to the panel it starts in
          if (mid < p.y0 - 5 || mid > p.y1 + 5) continue;
          const up = p.flip ? at[1] - p.y0 : p.y1 - at[1];
          found.set(l.cylinder, p.low + up / (p.y1 - p.y0) * (p.high - p.low));
        }
        const words = [...found].sort((a, b) => a[0] - b[0])
          .map(([c, v]) => (c ? `cyl ${c} ` : "") + plain(v, p.decimals));
        if (words.length) parts.push(`${words.join(", ")} ${p.unit}`);
      }
      out.textContent = parts.join("  \u00b7  ");
    };
    svg.addEventListener("pointermove", e => {
      const box = svg.getBoundingClientRect();
      show((e.clientX - box.left) / box.width * svg.viewBox.baseVal.width);
    });
    svg.tabIndex = 0;
    svg.addEventListener("keydown", e => {
      const step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
      if (step) { e.preventDefault(); show(place + step * (axis.to - axis.from) / (e.shiftKey ? 20 : 200)); }
    });
    readers.set(svg, v => show(axis.from + (v - axis.low) / (axis.high - axis.low) * (axis.to - axis.from)));
  };

  for (const figure of document.querySelectorAll("figure")) {
    const svgs = [...figure.querySelectorAll("svg[data-axis]")];
    if (!svgs.length) continue;
    const out = make("output", "Move over the figure, or focus it and use the arrow keys, to read values.", "reading");
    out.setAttribute("aria-live", "off");
    figure.querySelector("figcaption").before(out);
    svgs.forEach(reader);
    // Hiding cylinders.
    const numbers = [...new Set([...figure.querySelectorAll(".cy")].map(e => +/cy(\d+)/.exec(e.getAttribute("class"))[1]))].sort((a, b) => a - b);
    if (numbers.length < 2) continue;
    const row = make("p", "Show cylinder", "shown");
    for (const n of numbers) {
      const button = make("button", String(n));
      button.type = "button";
      button.setAttribute("aria-pressed", "true");
      button.setAttribute("aria-label", `cylinder ${n}`);
      button.addEventListener("click", () => {
        const on = button.getAttribute("aria-pressed") !== "true";
        button.setAttribute("aria-pressed", String(on));
        for (const e of figure.querySelectorAll(`.cy${n}`)) e.style.display = on ? "" : "none";
      });
      row.append(button);
    }
    out.after(row);
  }

  // Copying a table as lines with tabs.
  for (const table of document.querySelectorAll("table")) {
    const button = make("button", "copy", "copy");
    button.type = "button";
    button.setAttribute("aria-label", `copy the table \u201c${table.caption.textContent}\u201d`);
    button.addEventListener("click", async () => {
      const text = [...table.rows].map(r => [...r.cells].map(c => c.textContent.trim()).join("\t")).join("\n");
      let done = true;
      try { await navigator.clipboard.writeText(text); } catch {
        const area = make("textarea", text);
        document.body.append(area);
        area.select();
        done = document.execCommand("copy");
        area.remove();
      }
      button.textContent = done ? "copied" : "not allowed here";
      setTimeout(() => { button.textContent = "copy"; }, 1500);
    });
    table.caption.append(" ", button);
  }

  // From a notice to its moment in the trace.
  const trace = document.getElementById("figure-trace");
  for (const item of document.querySelectorAll("li[data-start]")) {
    if (!trace) break;
    const button = make("button", "show in the trace");
    button.type = "button";
    button.addEventListener("click", () => {
      const svg = [...trace.querySelectorAll("svg[data-axis]")].find(s => s.getClientRects().length);
      if (!svg) return;
      readers.get(svg)(+item.dataset.start);
      trace.scrollIntoView({ block: "center" });
      svg.focus({ preventScroll: true });
    });
    item.append(" ", button);
  }
})();
