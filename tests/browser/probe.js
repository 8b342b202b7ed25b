"use strict";
let getStyle;
// Looks at a page in frames of given widths and writes what it sees into the document, for `--dump-dom`. `PAGE` and
// `WIDTHS` stand in the page that includes this file.

// A text is taken as wide as it is drawn and as high as its small letters: boxes of two lines touch by their line
// height, letters may not.
const CORE = 0.5;

// What is drawn of a text: inside every box that scrolls or hides what is over its edge.
const clipped = (rect, node) => {
  let { left, right, top, bottom } = rect;
  for (let e = node.parentElement; e; e = e.parentElement) {
    if (getStyle(e).overflowX === "visible" || e.tagName === "HTML" || e.tagName === "BODY") continue;
    const box = e.getBoundingClientRect();
    left = Math.max(left, box.left); right = Math.min(right, box.right);
    top = Math.max(top, box.top); bottom = Math.min(bottom, box.bottom);
  }
  return { left, right, top, bottom };
};

const texts = doc => {
  const out = [], walk = doc.createTreeWalker(doc.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const text = node.data.trim(), parent = node.parentElement;
    if (!text || parent.closest("script, style, title, desc") || getStyle(parent).visibility !== "visible") continue;
    const range = doc.createRange();
    range.selectNodeContents(node);
    const own = [...range.getClientRects()].filter(r => r.width > 0.5 && r.height > 0.5);
    for (const r of own) {
      const upright = r.height > 2.5 * r.width && text.length > 3;
      const cut = (upright ? r.width : r.height) * (1 - CORE) / 2;
      const core = upright
        ? { left: r.left + cut, right: r.right - cut, top: r.top, bottom: r.bottom }
        : { left: r.left, right: r.right, top: r.top + cut, bottom: r.bottom - cut };
      const box = clipped(core, node);
      if (box.right > box.left && box.bottom > box.top) out.push({ text: text.slice(0, 60), node, box });
    }
  }
  return out;
};

const overlaps = all => {
  const found = [], sorted = [...all].sort((a, b) => a.box.top - b.box.top);
  for (let i = 0; i < sorted.length; i++) {
    const a = sorted[i].box;
    for (let j = i + 1; j < sorted.length && sorted[j].box.top < a.bottom; j++) {
      const b = sorted[j].box;
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (wide > 1 && high > 1 && sorted[i].node !== sorted[j].node) found.push(`"${sorted[i].text}" over "${sorted[j].text}"`);
    }
  }
  return found;
};

// Texts of a figure that reach over its edge, and texts that are too small to be read.
const figures = doc => {
  const found = [];
  for (const svg of doc.querySelectorAll("svg")) {
    const frame = svg.getBoundingClientRect();
    if (!frame.width) continue;
    for (const text of svg.querySelectorAll("text")) {
      const r = text.getBoundingClientRect();
      if (r.left < frame.left - 1 || r.right > frame.right + 1 || r.top < frame.top - 1 || r.bottom > frame.bottom + 1) found.push(`"${text.textContent}" is cut by the edge of its figure`);
      const size = parseFloat(getStyle(text).fontSize) * frame.width / (svg.viewBox.baseVal.width || frame.width);
      if (size < 9) found.push(`"${text.textContent}" is ${size.toFixed(1)} px high`);
    }
  }
  return found;
};

// The words of a page in the order in which they are read out.
const words = doc => {
  const lines = [];
  let line = "";
  const flush = () => { const l = line.replace(/\s+/g, " ").trim(); if (l) lines.push(l); line = ""; };
  const visit = node => {
    if (node.nodeType === Node.TEXT_NODE) { line += node.data; return; }
    if (node.nodeType !== Node.ELEMENT_NODE || node.matches("script, style, button, output, .shown") || node.getAttribute("aria-hidden") === "true") return;
    const style = getStyle(node);
    if (style.display === "none" || style.visibility !== "visible") return;
    const tag = node.tagName.toLowerCase();
    if (node.getAttribute("role") === "img") { flush(); line = `[figure: ${node.getAttribute("aria-label") || node.querySelector("title")?.textContent || ""}]`; flush(); return; }
    const inline = style.display.startsWith("inline") || tag === "td" || tag === "th";
    if (!inline) flush();
    const level = /^h([1-6])$/.exec(tag);
    if (level) line += "#".repeat(+level[1]) + " ";
    if (tag === "caption") line += "table: ";
    if (tag === "li") line += "- ";
    if ((tag === "td" || tag === "th") && node.previousElementSibling) line += " | ";
    for (const child of node.childNodes) visit(child);
    if (!inline) flush();
  };
  visit(doc.body);
  flush();
  return lines;
};

const handlers = doc => [...doc.querySelectorAll("*")].flatMap(e => [...e.attributes].filter(a => /^on/i.test(a.name) || /^\s*javascript:/i.test(a.value)).map(a => `${e.tagName} ${a.name}`));

const look = width => new Promise(done => {
  const frame = document.createElement("iframe");
  frame.style.cssText = `border:0;width:${width}px;height:900px`;
  frame.src = PAGE;
  frame.addEventListener("load", async () => {
    const doc = frame.contentDocument;
    await doc.fonts.ready;
    getStyle = e => frame.contentWindow.getComputedStyle(e);
    const all = texts(doc), tags = {};
    for (const e of doc.querySelectorAll("*")) { const t = e.tagName.toLowerCase(); tags[t] = (tags[t] || 0) + 1; }
    done({
      width,
      texts: all.length,
      overlaps: overlaps(all),
      figures: figures(doc),
      sideways: doc.documentElement.scrollWidth - doc.documentElement.clientWidth,
      words: words(doc),
      handlers: handlers(doc),
      tags,
    });
  });
  document.body.append(frame);
});

(async () => {
  const seen = [];
  for (const width of WIDTHS) seen.push(await look(width));
  const out = document.createElement("script");
  out.type = "application/json";
  out.id = "seen";
  out.textContent = JSON.stringify(seen).replace(/[<>&]/g, c => `\\u${c.charCodeAt(0).toString(16).padStart(4, "0")}`);
  document.body.append(out);
})();
