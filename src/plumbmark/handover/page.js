"use strict";
// Draws the section at a reading and enlarges the plan. Words come from the table, numbers from #data.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const plan = document.getElementById("plan");
  if (!plan || data.worst < 0) return;
  document.documentElement.classList.add("js");

  const rows = [];
  data.lines.forEach((line, k) => line.stations.forEach((station) => rows.push({ line, k, station })));
  const choose = document.getElementById("choose");
  const full = plan.viewBox.baseVal;
  const whole = { x: full.x, y: full.y, w: full.width, h: full.height };
  let zoom = 1;
  let chosen = data.worst;

  function make(tag, attributes, text) {
    const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const key in attributes) node.setAttribute(key, attributes[key]);
    if (text !== undefined) node.textContent = text;
    return node;
  }
  const cells = (row) => document.getElementById("s" + row).cells;
  const bold = (cell) => cell.querySelector("b").textContent;
  const light = (cell) => cell.querySelector("i").textContent;

  // ---- the plan -------------------------------------------------------------------------------
  function showPlan() {
    const [x, y] = rows[chosen].station.xy;
    const w = whole.w / zoom, h = whole.h / zoom;
    const left = zoom === 1 ? whole.x : x - w / 2, top = zoom === 1 ? whole.y : y - h / 2;
    plan.setAttribute("viewBox", `${left} ${top} ${w} ${h}`);
    plan.classList.toggle("enlarged", zoom > 1);
    const u = w / (plan.clientWidth || whole.w);
    // --u: drawing units per pixel; --o and --t keep the distance and the size of labels as on the whole plan.
    plan.style.setProperty("--u", u);
    plan.style.setProperty("--o", 1 / zoom);
    plan.style.setProperty("--t", u * zoom);
    document.getElementById("north").setAttribute("transform", `translate(${left + w - 20 * u} ${top + 40 * u})`);
    const bar = document.getElementById("bar");
    bar.setAttribute("transform", `translate(${left + 12 * u} ${top + h - 12 * u})`);
    const unit = data.units === "ft-in" ? 0.3048 : 1, most = w / data.pxPerM / unit / 3.2;
    const base = 10 ** Math.floor(Math.log10(most));
    const length = [5, 2, 1].map((m) => m * base).find((v) => v <= most * 1.0001);
    const inches = data.units === "ft-in" && length < 1;
    bar.querySelector("path").setAttribute("d", `M0 -5V0H${(length * unit * data.pxPerM) / u}V-5`);
    bar.querySelector("text").textContent = inches
      ? `${(length * 12).toFixed(1)} in` : `${Number(length.toPrecision(3))} ${unit === 1 ? "m" : "ft"}`;
    const ring = document.getElementById("ring");
    ring.setAttribute("transform", `translate(${x} ${y})`);
    if (!ring.firstChild) ring.append(make("circle", { class: "k", r: 12, style: "stroke-width:2.5" }));
  }
  document.getElementById("closer").onclick = () => { zoom = Math.min(zoom * 2, 64); showPlan(); };
  document.getElementById("wider").onclick = () => { zoom = Math.max(zoom / 2, 1); showPlan(); };
  document.getElementById("whole").onclick = () => { zoom = 1; showPlan(); };
  plan.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(plan.getScreenCTM().inverse());
    pick(nearest((r) => Math.hypot(r.station.xy[0] - at.x, r.station.xy[1] - at.y)));
  });
  plan.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (step) pick(chosen + step);
    else if (event.key === "+" || event.key === "=") document.getElementById("closer").click();
    else if (event.key === "-") document.getElementById("wider").click();
    else return;
    event.preventDefault();
  });
  function nearest(distance) {
    let best = 0;
    rows.forEach((r, i) => { if (distance(r) < distance(rows[best])) best = i; });
    return best;
  }

  // ---- along the line -------------------------------------------------------------------------
  const charts = [...document.querySelectorAll("svg.along")];
  const place = (svg, ch) => {
    const { from, to, left, right } = svg.dataset;
    return +left + ((ch - from) / (to - from)) * (right - left);
  };
  for (const svg of charts) {
    svg.addEventListener("click", (event) => {
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      pick(nearest((r) => (r.k === +svg.dataset.line ? Math.abs(place(svg, r.station.ch) - at.x) : 1e9)));
    });
  }
  function showHere() {
    for (const svg of charts) {
      const mine = rows[chosen].k === +svg.dataset.line;
      const x = place(svg, rows[chosen].station.ch);
      svg.querySelector(".here").setAttribute("d", mine ? `M${x} 34V${svg.viewBox.baseVal.height - 40}` : "");
    }
  }

  // ---- the section ----------------------------------------------------------------------------
  function drawSection(row) {
    const { line, station } = rows[row];
    const box = document.getElementById("section");
    const W = Math.max(320, Math.min(box.clientWidth || 380, 640));
    const depthWords = [bold(cells(row)[5]), ...station.ends];
    const gutter = 34 + 8 * Math.max(...depthWords.map((w) => w.length)), top = 66, side = 14;
    const sign = station.back ? -1 : 1;
    const seconds = line.second
      .filter((n) => station.ch >= n.from - 0.01 && station.ch <= n.to + 0.01)
      .map((n) => {
        const ends = n.offset.map((v) => station.shift[1] + sign * v).sort((a, b) => a - b);
        return { ...n, low: ends[0], x: station.shift[1] + sign * n.offset[1], high: ends[2] };
      })
      .filter((n) => Math.abs(n.x) < Math.max(4, 3 * station.depth[1]));
    const showNull = station.null !== null && Math.abs(station.null) < 2 * station.depth[1];
    const xs = [0, station.shift[0], station.shift[2], ...seconds.flatMap((n) => [n.low, n.high])];
    if (showNull) xs.push(station.null);
    const ys = [station.depth[2], ...seconds.map((n) => n.depth), station.shown || 0];
    let x0 = Math.min(...xs), x1 = Math.max(...xs);
    const deepest = Math.max(...ys) * 1.06;
    const k = Math.min((W - gutter - side) / Math.max(1.25 * (x1 - x0), 0.6), 430 / deepest);
    const middle = (x0 + x1) / 2, centre = gutter + (W - gutter - side) / 2;
    const X = (m) => centre + (m - middle) * k, Y = (m) => top + m * k;
    let lowest = Y(deepest) + 14;

    const svg = make("svg", { role: "img", "aria-labelledby": "sec-t sec-d" });
    svg.style.maxWidth = W + "px";
    const path = (d, kind) => svg.append(make("path", { d, class: kind || "" }));
    const taken = [];
    const hits = (l, r, y) => taken.some((t) => l < t[1] && t[0] < r && y - 13 < t[3] && t[2] < y + 4);
    // Where a label would stand: its left and right end, kept inside the drawing and off the column of depths.
    function span(x, y, said, { anchor = "middle", kind = "" } = {}) {
      const wide = (kind === "big" ? 8.8 : 7.7) * said.length;
      const left = anchor === "middle" ? x - wide / 2 : anchor === "end" ? x - wide : x;
      const least = anchor === "end" || y < top ? 2 : gutter - 8;
      const l = Math.min(Math.max(left, least), W - wide - 2);
      return [l, l + wide];
    }
    function text(x, y, said, options = {}) {
      const [l, r] = span(x, y, said, options), anchor = options.anchor || "middle";
      for (let tries = 0; options.step && hits(l, r, y) && tries < 8; tries++) y += options.step;
      taken.push([l, r, y - 13, y + 4]);
      lowest = Math.max(lowest, y + 10);
      const at = anchor === "middle" ? (l + r) / 2 : anchor === "end" ? r : l;
      svg.append(make("text", { x: at, y, "text-anchor": anchor, class: options.kind || "" }, said));
    }
    const tick = (x, y) => `M${x - 4} ${y + 4}L${x + 4} ${y - 4}`;

    // Ground, hatched below as a draughtsman does.
    path(`M${gutter - 30} ${top}H${W - 4}`, "ground");
    let hatch = "";
    for (let x = gutter - 26; x < W - 6; x += 26) hatch += `M${x} ${top + 2}l-6 7M${x + 5} ${top + 2}l-6 7`;
    path(hatch, "grid");

    // Where the line can be, and the line.
    const [sl, sv, sh] = station.shift, [dl, dv, dh] = station.depth;
    svg.append(make("rect", { x: X(sl), y: Y(dl), width: X(sh) - X(sl), height: Y(dh) - Y(dl), class: "band" }));

    // Depths on the left: extension lines, one dimension line, its ticks oblique.
    const rail = gutter - 16;
    path(`M${rail - 6} ${Y(dl)}H${X(sl) - 4}M${rail - 6} ${Y(dv)}H${X(sv) - 8}M${rail - 6} ${Y(dh)}H${X(sl) - 4}`, "grid");
    path(`M${rail} ${top}V${Y(dh)}` + [top, Y(dl), Y(dv), Y(dh)].map((y) => tick(rail, y)).join(""));
    const depths = [Y(dl), Y(dv), Y(dh)];
    depths[0] = Math.min(depths[0], depths[1] - 18);
    depths[2] = Math.max(depths[2], depths[1] + 18);
    text(rail - 10, depths[1] + 5, bold(cells(row)[5]), { anchor: "end", kind: "big" });
    text(rail - 10, depths[0] + 5, station.ends[0], { anchor: "end" });
    text(rail - 10, depths[2] + 5, station.ends[1], { anchor: "end" });

    // Sideways: the mark, the paint, and how far the band reaches.
    path(`M${X(0)} ${top}V${top - 26}`, "ink");
    const moved = Math.abs(X(sv) - X(0)) > 1 && bold(cells(row)[4]) !== "at the mark";
    if (moved) {
      path(`M${X(0)} ${top - 10}H${X(sv)}${tick(X(0), top - 10)}${tick(X(sv), top - 10)}M${X(sv)} ${top}V${top - 46}`);
      text(X(sv), top - 50, `paint here, ${bold(cells(row)[4])}`, { kind: "big", anchor: sv < 0 ? "end" : "start" });
      text(X(0), top - 30, "your mark", { anchor: sv < 0 ? "start" : "end", step: 0 });
    } else text(X(0), top - 32, "paint at your mark", { kind: "big" });
    path(`M${X(sl)} ${Y(dh) + 3}V${Y(dh) + 20}M${X(sh)} ${Y(dh) + 3}V${Y(dh) + 20}`, "grid");
    path(`M${X(sl)} ${Y(dh) + 14}H${X(sh)}${tick(X(sl), Y(dh) + 14)}${tick(X(sh), Y(dh) + 14)}`);
    text((X(sl) + X(sh)) / 2, Y(dh) + 34, light(cells(row)[4]), { step: 17 });

    const g = make("g", { class: line.colour });
    g.append(make("circle", { cx: X(sv), cy: Y(dv), r: Math.max(4.5, ((line.diameter || 0) / 2) * k), class: "pipe" }));
    svg.append(g);
    if (showNull) {
      path(`M${X(station.null)} ${top}v14`, "ink");
      text(X(station.null), top + 28, "null", { step: 17 });
    }
    if (station.shown !== null) {
      const y = Y(station.shown);
      path(`M${X(0) - 4} ${y - 4}l8 8m0 -8l-8 8`, "mark");
      const inside = y > Y(dl) - 8 && y < Y(dh) + 8 && X(0) > X(sl) - 9 && X(0) < X(sh);
      text((inside ? X(sh) : X(0)) + 9, y + 5, `display ${station.said}`, { anchor: "start", step: 17 });
    }
    // Second lines last: beside their sign where there is room, else below everything on a leader.
    taken.push([X(sl), X(sh), Y(dl), Y(dh)], [0, W, top - 60, top + 10]);
    const signs = seconds.map((n) => [X(n.low) - 3, X(n.high) + 3, Y(n.depth) - 8, Y(n.depth) + 8]);
    seconds.forEach((n, i) => {
      const x = X(n.x), y = Y(n.depth), beside = `${n.beside} from the line`;
      const others = signs.filter((_, k) => k !== i);
      taken.push(...others);
      const room = [[y - 14, n.words], [y + 24, beside]].every(([at, said]) => !hits(...span(x, at, said), at));
      taken.splice(taken.length - others.length, others.length);
      const g = make("g", { class: n.colour });
      g.append(make("path", { d: `M${X(n.low)} ${y}H${X(n.high)}M${X(n.low)} ${y - 6}v12M${X(n.high)} ${y - 6}v12` }));
      g.append(make("circle", { cx: x, cy: y, r: 6, class: "pipe dotted" }));
      svg.append(g);
      if (room) {
        text(x, y - 14, n.words);
        text(x, y + 24, beside);
      } else {
        const row = lowest + 12;
        path(`M${x} ${y + 7}V${row - 12}`, "leader");
        text(x, row, n.words);
        text(x, row + 17, beside);
      }
    });
    svg.prepend(
      make("title", { id: "sec-t" }, `Section at ${station.name}, ${line.name}`),
      make("desc", { id: "sec-d" }, "To scale. " + document.getElementById("section-words").textContent),
    );
    svg.setAttribute("viewBox", `0 0 ${W} ${lowest}`);
    box.replaceChildren(svg);
  }

  function tell(row) {
    const { line, station } = rows[row], c = cells(row);
    document.getElementById("section-name").textContent = `Section at ${station.name}, ${line.name}`;
    const where = bold(c[4]) === "at the mark" ? "Paint at your mark" : `Paint ${bold(c[4])} of your mark`;
    document.getElementById("section-words").textContent =
      `${where} (${light(c[4])}). ${bold(c[5]).replace(/^./, (a) => a.toUpperCase())} to the middle of it, could be ${light(c[5])}. ` +
      `Current ${bold(c[6])} mA, could be ${light(c[6])}. ` +
      { holds: "This holds.", loose: "This is loose.", unproven: "This is unproven." }[c[9].textContent];
    const more = station.why.map((i) => data.texts[i]);
    if (station.next >= 0) more.push(data.texts[station.next]);
    const said = more.map((t) => { const p = document.createElement("p"); p.textContent = t; return p; });
    document.getElementById("section-more").replaceChildren(...said);
  }

  function pick(row) {
    const before = document.querySelector("tr[aria-current]");
    if (before) before.removeAttribute("aria-current");
    chosen = Math.min(Math.max(row, 0), rows.length - 1);
    document.getElementById("s" + chosen).setAttribute("aria-current", "true");
    choose.value = chosen;
    tell(chosen);
    drawSection(chosen);
    showPlan();
    showHere();
  }

  // ---- the list of readings -------------------------------------------------------------------
  let i = 0;
  for (const line of data.lines) {
    const group = document.createElement("optgroup");
    group.label = line.name;
    for (const station of line.stations) {
      const words = cells(i)[9].textContent;
      group.append(new Option(words === "holds" ? station.id : `${station.id}, ${words}`, i++));
    }
    if (line.stations.length) choose.append(group);
  }
  choose.onchange = () => pick(+choose.value);
  document.getElementById("before").onclick = () => pick(chosen - 1);
  document.getElementById("after").onclick = () => pick(chosen + 1);
  document.querySelectorAll("tbody button").forEach((button) => {
    button.onclick = () => {
      pick(+button.closest("tr").id.slice(1));
      document.getElementById("section-name").scrollIntoView({ block: "start" });
    };
  });
  let width = window.innerWidth;
  window.addEventListener("resize", () => {
    if (window.innerWidth !== width) { width = window.innerWidth; pick(chosen); }
  });
  window.addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
  pick(chosen);
})();
