"use strict";
// Checks the form of what is typed, keeps it in this browser, and writes it into the text of the design file.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const $ = id => document.getElementById(id);
  const whole = pattern => new RegExp("^(?:" + pattern + ")$");
  const bracket = new RegExp(data.bracket + "$"), bare = whole(data.bare);
  const patterns = Object.fromEntries(Object.entries(data.patterns).map(([name, one]) => [name, whole(one)]));
  const store = "derate sheet " + data.file + " " + hash(data.text);

  function hash(text) {
    let made = 5381;
    for (const one of text) made = (made * 33 + one.codePointAt(0)) >>> 0;
    return made.toString(36);
  }

  // One field as the file takes it: {text, wrong}. Nothing typed is an empty text.
  function value(field) {
    let text = $(field.id).value.trim();
    if (!text) return {text: "", wrong: ""};
    if (/[\u0000-\u001f\u007f-\u009f\u2028\u2029]/.test(text)) return {text, wrong: "one line of text"};
    const known = bracket.exec(text), unit = $(field.id + "u"), how = $(field.id + "k");
    let body = known ? text.slice(0, known.index).trim() : text;
    if (field.kind === "quantity") {
      if (unit && bare.test(body)) body = withUnit(body, unit.value);
      if (!patterns[field.pattern].test(body)) return {text, wrong: "a number with its unit, such as " + $(field.id).dataset.such};
    } else if (field.kind === "list") {
      if (!patterns.list.test(text)) return {text, wrong: "[one, two], none or unknown"};
      return {text, wrong: balanced(text) ? "" : "a bracket is missing"};
    }
    const behind = known ? known[0].trim() : how && how.value ? "(" + how.value + ")" : "";
    return {text: behind ? body + " " + behind : body, wrong: ""};
  }

  // The unit stands behind the last number, ahead of a tolerance.
  function withUnit(body, unit) {
    const found = /^(.*[0-9])( (?:±|\+\/-)? ?[0-9.+%-]*(?:\.\.)?[0-9.+]* ?%)$/.exec(body);
    return found ? found[1] + " " + unit + found[2] : body + " " + unit;
  }

  function balanced(text) {
    const open = [];
    for (const one of text) {
      if ("[{(".includes(one)) open.push({"[": "]", "{": "}", "(": ")"}[one]);
      else if ("]})".includes(one) && open.pop() !== one) return false;
    }
    return !open.length;
  }

  // Writing: the blocks that somebody filled, each at its anchor in the text.
  const quoted = text => /[,\[\]{}#]|: |:$|^[\s&*!|>'"%@`?-]|\s$/.test(text) ? JSON.stringify(text) : text;
  const leaf = one => one.raw ? one.text : quoted(one.text);
  const isLeaf = one => one && Object.hasOwn(one, "text") && Object.hasOwn(one, "raw");
  const LISTS = ["readings", "tests"];

  function flow(node) {
    if (isLeaf(node)) return leaf(node);
    return "{" + inside(node).join(", ") + "}";
  }
  const inside = node => [...node].map(([key, one]) => quoted(key) + ": " + flow(one));

  function lines(node, indent) {
    const made = [], pad = " ".repeat(indent);
    for (const [key, one] of node) {
      if (isLeaf(one)) made.push(pad + quoted(key) + ": " + leaf(one));
      else if (!indent && LISTS.includes(key)) {
        made.push(key + ":", ...[...one.values()].map(item => "  - " + flow(item)));
      } else made.push(pad + quoted(key) + ":", ...lines(one, indent + 2));
    }
    return made;
  }

  const begins = (path, head) => head.every((key, at) => path[at] === key);
  const blockOf = path => path.slice(0, 2);

  function gathered() {
    const filled = [], wrong = [], missing = [];
    for (const field of data.fields) {
      const found = value(field);
      if (found.wrong) wrong.push({field, why: found.wrong});
      else if (found.text) filled.push({field, path: field.path, text: found.text, raw: field.kind === "list" || found.text.startsWith("{")});
    }
    const lacking = data.fields.filter(one => one.needed && !filled.some(own => own.field === one));
    const kept = filled.filter(own => {
      const lack = lacking.find(one => begins(own.path, blockOf(one.path)));
      if (lack) missing.push({field: own.field, lack});
      return !lack;
    });
    if (data.empty) return whole(related(kept, missing));
    return whole(kept);
    function whole(kept) {
    const fixed = data.fixed.filter(one => kept.some(own => begins(own.path, blockOf(one.path))))
      .map(one => ({path: one.path, text: one.text, raw: one.text.startsWith("[")}));
    return {entries: [...fixed, ...kept], count: kept.filter(one => one.field).length, wrong, missing};
    }
  }

  // Of a supply that nobody has opened yet: a path names only what is described, and what is described stands on a
  // path, or among what nobody has traced yet. What hangs in the air waits, and is told.
  function related(entries, missing) {
    const names = text => text.match(/[A-Za-z][\w-]*(?:\.[\w-]+)*/g) ?? [];
    const apart = key => key.split(",").map(one => one.trim());
    const walks = own => [...names(own.path[1] === "bridging" ? own.path[2] ?? "" : ""), ...names(own.text)];  // the key is the part
    const drop = (own, label) => { missing.push({field: own.field, lack: {label}}); return false; };
    for (let before = -1; before !== entries.length;) {
      before = entries.length;
      const parts = new Set(entries.filter(one => one.path[0] === "parts").flatMap(one => apart(one.path[1])));
      const windings = new Set(entries.filter(one => one.path[2] === "windings").map(one => one.path[1] + "." + one.path[3]));
      const walked = new Set(entries.filter(one => one.path[0] === "circuit").flatMap(walks));
      entries = entries.filter(own => {
        if (own.path[0] === "circuit" || own.path.at(-1) === "between") {
          for (const name of walks(own)) {
            if (/^[A-Z]{1,3}[0-9]+$/.test(name) && !parts.has(name)) return drop(own, "the kind of " + name);
            if (name.includes(".") && !windings.has(name)) return drop(own, "the winding " + name);
          }
        }
        if (own.path[2] === "windings" && !walked.has(own.path[1] + "." + own.path[3])) {
          return drop(own, "a path with " + own.path[1] + "." + own.path[3]);
        }
        if (own.path[0] === "barriers" && own.path[2] !== "between" && data.fields.some(one =>
          one.needed && begins(one.path, blockOf(own.path)) && !entries.some(other => other.field === one))) {
          return drop(own, "between of " + own.path[1]);
        }
        return true;
      });
    }
    const walked = new Set(entries.filter(one => one.path[0] === "circuit").flatMap(walks));
    const loose = new Set(entries.filter(one => one.path[0] === "parts").flatMap(one => apart(one.path[1])).filter(one => !walked.has(one)));
    for (const name of loose) entries = [...entries, {path: ["circuit", "other", name], text: "not traced yet", raw: false}];
    return entries;
  }

  function written(entries) {
    const trees = new Map();
    for (const one of entries) {
      let best = null;
      for (const anchor of data.anchors) {
        if (begins(one.path, anchor.path) && (!best || anchor.path.length > best.path.length)) best = anchor;
      }
      const rest = one.path.slice(best.path.length);
      if (!rest.length) { trees.set(best, one); continue; }
      if (!trees.has(best)) {
        trees.set(best, new Map());
        for (const own of best.seed) put(trees.get(best), own.path, {text: own.text, raw: false});
      }
      put(trees.get(best), rest, one);
    }
    const edits = [...trees].map(([anchor, tree]) => ({anchor, text: piece(anchor, tree)}));
    edits.sort((a, b) => a.anchor.at - b.anchor.at || b.anchor.indent - a.anchor.indent);
    let made = "", from = 0;
    for (const {anchor, text} of edits) {
      made += data.text.slice(from, anchor.at) + text;
      from = Math.max(from, anchor.at + anchor.length);
    }
    return made + data.text.slice(from);
  }

  function put(node, path, one) {
    for (const key of path.slice(0, -1)) {
      if (!(node.get(key) instanceof Map)) node.set(key, new Map());
      node = node.get(key);
    }
    node.set(path.at(-1), one);
  }

  function piece(anchor, tree) {
    if (isLeaf(tree)) return anchor.lead + leaf(tree);
    const listed = anchor.path.length === 1 && LISTS.includes(anchor.path[0]);
    if (anchor.style === "block") {
      const pad = " ".repeat(anchor.indent);
      const own = listed ? [...tree.values()].map(item => pad + "- " + flow(item)) : lines(tree, anchor.indent);
      return "\n" + own.join("\n");
    }
    const own = listed ? [...tree.values()].map(flow) : inside(tree);
    return anchor.lead + (anchor.comma ? ", " : "") + own.join(", ") + anchor.tail;
  }

  function show() {
    const found = gathered();
    $("yaml").value = written(found.entries);
    const said = [found.count + (found.count === 1 ? " fact" : " facts") + " written into the file"];
    if (found.wrong.length) said.push(found.wrong.length + " left out, whose form cannot be read");
    for (const label of new Set(found.missing.map(one => one.lack.label))) said.push("left out until " + label + " is filled in");
    $("said").textContent = said.join("; ") + ".";
    for (const field of data.fields) {
      const input = $(field.id), told = $(field.id + "w"), why = found.wrong.find(one => one.field === field);
      input.setAttribute("aria-invalid", why ? "true" : "false");
      told.textContent = why ? "Write " + why.why + "." : "";
    }
    keep();
  }

  // Kept in this browser, and nowhere else.
  const inputs = [...document.querySelectorAll("form [id]:is(input, select)")];
  function keep() {
    const state = {};
    for (const one of inputs) {
      const now = one.type === "checkbox" ? one.checked : one.value;
      if (now !== (one.type === "checkbox" ? false : one.dataset.first || "")) state[one.id] = now;
    }
    try { localStorage.setItem(store, JSON.stringify(state)); $("kept").textContent = "Kept in this browser."; }
    catch { $("kept").textContent = "This browser keeps nothing: save the file before you close the page."; }
  }
  function restore() {
    let state = {};
    try { state = JSON.parse(localStorage.getItem(store) || "{}"); } catch { /* nothing kept */ }
    for (const one of inputs) {
      if (!Object.hasOwn(state, one.id)) continue;
      if (one.type === "checkbox") one.checked = state[one.id] === true; else one.value = String(state[one.id]);
    }
  }

  // A step opens once each of its cautions is ticked; a sample that was unwound is not powered again.
  function gates() {
    const unwound = document.querySelector('[data-step="unwound"]');
    const gone = unwound && [...unwound.querySelectorAll("input[data-gate]")].some(one => one.checked);
    for (const step of document.querySelectorAll("[data-step]")) {
      const boxes = [...step.querySelectorAll("input[data-gate]")];
      const shut = step.dataset.step === "powered" && gone;
      for (const one of boxes) { one.disabled = shut; if (shut) one.checked = false; }
      const inner = step.querySelector("fieldset");
      if (inner) inner.disabled = shut || !boxes.every(one => one.checked);
    }
  }

  document.forms[0].addEventListener("input", () => { gates(); show(); });
  document.forms[0].addEventListener("submit", event => event.preventDefault());
  $("copy").addEventListener("click", async () => {
    $("yaml").select();
    try { await navigator.clipboard.writeText($("yaml").value); } catch { document.execCommand("copy"); }
    $("kept").textContent = "Copied.";
  });
  $("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([$("yaml").value], {type: "text/plain"}));
    link.download = data.file;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  });
  $("forget").addEventListener("click", () => {
    if (!confirm("Forget everything that was typed on this page?")) return;
    document.forms[0].reset(); gates(); show();
  });
  document.documentElement.classList.add("live");
  restore(); gates(); show();
})();
