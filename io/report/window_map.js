// The map of a process window: areas of one outcome each, told apart by pattern, word and colour,
// borders, lines of equal fill time, the case as it is set and the setting in the middle; the
// values at the point of the grid that is pointed at or gone to by keys.
"use strict";

(function (tidemark) {
  const el = tidemark.element;
  const margin = { top: 12, right: 16, bottom: 46, left: 60 };

  // By number of the outcome: name of its colours, and the lines of its pattern in a square of 10.
  const zones = [
    { name: "fills", lines: "" },
    { name: "opens", lines: "M0,0L10,10M10,0L0,10" },
    { name: "late", lines: "M2,2h2M7,7h2" },
    { name: "gel", lines: "M-1,1L1,-1M0,10L10,0M9,11L11,9" },
    { name: "stall", lines: "M2.5,0V10M7.5,0V10" },
    { name: "time", lines: "M0,2.5H10M0,7.5H10" },
    { name: "air", lines: "M3,5a2,2 0 1,0 4,0a2,2 0 1,0 -4,0" },
    { name: "noway", lines: "M5,0V10M0,5H10" },
    { name: "machine", lines: "M-1,9L1,11M0,0L10,10M9,-1L11,1" },
    { name: "failed", lines: "M3,3L7,7M7,3L3,7" },
    { name: "untried", lines: "M4,5h2" },
  ];

  const svgName = "http://www.w3.org/2000/svg";
  function svgElement(tag, attributes, parent) {
    const made = document.createElementNS(svgName, tag);
    for (const name of Object.keys(attributes)) made.setAttribute(name, attributes[name]);
    parent.append(made);
    return made;
  }

  function addPattern(defs, id, zone) {
    const pattern = svgElement("pattern", { id, width: 10, height: 10, patternUnits: "userSpaceOnUse" }, defs);
    svgElement("path", { d: zones[zone].lines, class: "zone-lines zone-lines-" + zones[zone].name }, pattern);
  }

  const valueAt = (axis, share) => axis.zero + (axis.low - axis.zero) * Math.pow((axis.high - axis.zero) / (axis.low - axis.zero), share);
  const shareOf = (axis, value) => Math.log((value - axis.zero) / (axis.low - axis.zero)) / Math.log((axis.high - axis.zero) / (axis.low - axis.zero));

  // Round values with room between them, the roundest first: steps of the axis are equal ratios.
  function ticks(kind, axis, place, gap) {
    const scale = tidemark.shown(kind, 1);
    const low = axis.low * scale;
    const high = axis.high * scale;
    const taken = [];
    let decade = Math.pow(10, Math.ceil(Math.log10(Math.max(Math.abs(low), Math.abs(high)))));
    for (let k = 0; k < 7 && taken.length < 9; ++k, decade /= 10) {
      for (const step of [decade, decade / 2, decade / 5]) {
        for (let i = Math.ceil(low / step - 1e-9); i * step <= high + 1e-9 * step; ++i) {
          const value = Number((i * step).toPrecision(9));
          const at = place(shareOf(axis, value / scale));
          const isRound = [1, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9].includes(Number(Math.abs(value).toExponential().split("e")[0])) || value === 0;
          if ((isRound || taken.length < 3) && Number.isFinite(at) && taken.every((tick) => Math.abs(tick.at - at) >= gap)) taken.push({ value, at });
        }
      }
    }
    return taken;
  }

  const placesOf = (line) => d3.range(line.length / 2).map((k) => [line[2 * k], line[2 * k + 1]]);

  // Where in an area of one outcome there is room for its word, best first: points of the grid far from others.
  function wordPlaces(chart, outcome) {
    const n = chart.points;
    const rooms = [];
    const others = [];
    chart.grid.forEach((point, k) => {
      if (point[0] !== outcome) others.push([k % n, Math.floor(k / n)]);
    });
    chart.grid.forEach((point, k) => {
      if (point[0] !== outcome) return;
      const i = k % n;
      const j = Math.floor(k / n);
      let room = Math.min(i, n - 1 - i, j, n - 1 - j) + 0.5;
      for (const other of others) room = Math.min(room, Math.hypot((other[0] - i) * 0.7, other[1] - j));
      rooms.push({ room, i, j, fromMiddle: Math.hypot(i - (n - 1) / 2, j - (n - 1) / 2) });
    });
    // Of those with nearly as much room first those near the middle of the map.
    const most = d3.max(rooms, (place) => place.room) || 0;
    const isRoomy = (place) => place.room >= 0.85 * most;
    return rooms.filter(isRoomy).sort((a, b) => a.fromMiddle - b.fromMiddle)
      .concat(rooms.filter((place) => !isRoomy(place)).sort((a, b) => b.room - a.room));
  }

  function outcomesIn(chart) {
    return d3.range(zones.length).filter((zone) => chart.grid.some((point) => point[0] === zone) || chart.areas.some((area) => area[0] === zone));
  }

  // "fills in 8:18 min; head up to 0.00 bar; ...", from values as point_json in io/window_report has them.
  function pointWords(chart, values) {
    const [outcome, fillTime, head, capTime, force, gel] = values;
    const said = [chart.outcomes[outcome].words + (fillTime === null ? "" : (outcome === 0 ? " in " : ", full at ") + tidemark.say("time", fillTime))];
    if (head !== null) said.push("head up to " + tidemark.say("pressure", head));
    if (capTime !== null) said.push("at the cap from " + tidemark.say("time", capTime));
    if (force !== null) said.push("opening force " + (force > 0 ? "up to " + tidemark.say("force", force) : "none"));
    if (gel !== null && gel > 0) said.push("gel at " + (1 / gel).toPrecision(3) + " times the age of the oldest resin");
    return said.join("; ");
  }

  const settingWords = (flow, cap) => tidemark.say("flow", flow) + ", cap " + tidemark.say("pressure", cap);

  const signs = {
    middle: "M-9,0a9,9 0 1,0 18,0a9,9 0 1,0 -18,0M-14,0H14M0,-14V14",
    as_set: "M0,-9L9,0L0,9L-9,0Z",
  };

  function signPicture(kind) {
    const svg = document.createElementNS(svgName, "svg");
    svg.setAttribute("viewBox", "-15 -15 30 30");
    svg.setAttribute("class", "map-sign");
    svg.setAttribute("aria-hidden", "true");
    svgElement("path", { d: signs[kind], class: "map-mark map-mark-" + kind }, svg);
    return svg;
  }

  function zonePicture(zone, id) {
    const svg = document.createElementNS(svgName, "svg");
    svg.setAttribute("viewBox", "0 0 30 20");
    svg.setAttribute("class", "map-zone");
    svg.setAttribute("aria-hidden", "true");
    svgElement("rect", { width: 30, height: 20, class: "zone-" + zones[zone].name }, svg);
    svgElement("rect", { width: 30, height: 20, fill: "url(#" + id + ")" }, svg);
    return svg;
  }

  function isWithin(point) {
    return point && point.at.every((share) => share >= -1e-9 && share <= 1 + 1e-9);
  }

  function legend(chart, patternId) {
    const items = outcomesIn(chart).map((zone) =>
      el("li", {}, [zonePicture(zone, patternId(zone)), el("span", {}, [el("b", { text: chart.outcomes[zone].word }), ": " + chart.outcomes[zone].meaning])]));
    const mark = (kind, words) => {
      const point = chart[kind];
      if (point) items.push(el("li", {}, [signPicture(kind), el("span", { text: words + ": " + settingWords(point.flow, point.cap) + (isWithin(point) ? "" : ", outside the map") })]));
    };
    mark("middle", "in the middle of what is safe");
    mark("as_set", "as the case is set");
    if (chart.contours.length > 0) {
      items.push(el("li", {}, [el("span", { class: "stroke map-contour-key" }), el("span", { text: "line of equal fill time, minutes" })]));
    }
    return el("ul", { class: "names map-names" }, items);
  }

  // Labels keep apart from each other and from the marks.
  class Labels {
    constructor(width, height) {
      this.boxes = [];
      this.width = width;
      this.height = height;
    }
    room(x, y, w, h) {
      if (x - w / 2 < margin.left + 2 || x + w / 2 > this.width - margin.right - 2 || y - h / 2 < margin.top + 2 || y + h / 2 > this.height - margin.bottom - 2) return -1;
      return Math.min(200, ...this.boxes.map((box) => Math.max(Math.abs(box.x - x) - (box.w + w) / 2, Math.abs(box.y - y) - (box.h + h) / 2)));
    }
    take(x, y, w, h) {
      this.boxes.push({ x, y, w, h });
    }
  }

  function createMap(holder, chart) {
    const n = chart.points;
    const number = holder.dataset.chart;
    const patternId = (zone) => "zone-" + number + "-" + zone;
    const told = el("p", { class: "picked map-told", role: "status" });
    const frame = el("div", {
      class: "map-frame", tabindex: "0", role: "application", "aria-label": chart.label, "aria-describedby": "map-keys-" + number,
    });
    const hint = "Point at the map, or go from point to point with the arrow keys (Page Up and Page Down: five caps at a time; Home: the middle of what is safe).";
    holder.append(el("figure", {}, [frame, told, legend(chart, patternId)]),
      el("p", { class: "keys", id: "map-keys-" + number, text: hint + " The same stands in a table below." }));

    const start = chart.middle && isWithin(chart.middle) ? chart.middle.at : [0.5, 0.5];
    const home = { i: Math.round(start[0] * (n - 1)), j: Math.round(start[1] * (n - 1)) };
    let cursor = { ...home };
    let isPointed = false; // by pointer or keys
    let ring = null;
    let across = null;
    let up = null;

    function tell() {
      if (!isPointed) {
        const first = chart.middle || chart.as_set;
        told.textContent = first ? settingWords(first.flow, first.cap) + ": " + pointWords(chart, first.values) + "." : "";
        return;
      }
      const share = (k) => k / (n - 1);
      const flow = valueAt(chart.flow, share(cursor.i));
      const cap = valueAt(chart.cap, share(cursor.j));
      told.textContent = settingWords(flow, cap) + ": " + pointWords(chart, chart.grid[cursor.j * n + cursor.i]) + ".";
      ring.attr("visibility", "visible").attr("transform", "translate(" + across(share(cursor.i)) + "," + up(share(cursor.j)) + ")");
    }

    function drawAxes(svg, width, height) {
      const bottom = height - margin.bottom;
      for (const tick of ticks("flow", chart.flow, across, 46)) {
        svg.append("line").attr("class", "axis").attr("x1", tick.at).attr("x2", tick.at).attr("y1", bottom).attr("y2", bottom + 5);
        svg.append("text").attr("class", "tick").attr("x", tick.at).attr("y", bottom + 18).attr("text-anchor", "middle").text(tick.value);
      }
      for (const tick of ticks("pressure", chart.cap, up, 26)) {
        svg.append("line").attr("class", "axis").attr("x1", margin.left - 5).attr("x2", margin.left).attr("y1", tick.at).attr("y2", tick.at);
        svg.append("text").attr("class", "tick").attr("x", margin.left - 8).attr("y", tick.at).attr("dy", ".32em").attr("text-anchor", "end").text(tick.value);
      }
      svg.append("text").attr("class", "tick").attr("x", (margin.left + width - margin.right) / 2).attr("y", height - 8).attr("text-anchor", "middle")
        .text("flow rate, L/min" + (width > 420 ? " (equal ratios)" : ""));
      svg.append("text").attr("class", "tick").attr("transform", "translate(13," + (margin.top + bottom) / 2 + ") rotate(-90)").attr("text-anchor", "middle")
        .text("pressure cap, bar" + (height > 330 ? " (equal ratios above the air)" : ""));
    }

    function drawAreas(svg) {
      for (const zone of outcomesIn(chart)) {
        const paths = chart.areas.filter((area) => area[0] === zone)
          .map((area) => "M" + placesOf(area[1]).map(([x, y]) => across(x).toFixed(1) + "," + up(y).toFixed(1)).join("L") + "Z").join("");
        if (paths === "") continue;
        // The line of the same colour closes the hair between neighbours.
        svg.append("path").attr("d", paths).attr("class", "map-area zone-" + zones[zone].name);
        if (zones[zone].lines) svg.append("path").attr("d", paths).attr("fill", "url(#" + patternId(zone) + ")").attr("shape-rendering", "crispEdges");
      }
    }

    function drawText(svg, labels, text, x, y, kind) {
      svg.append("text").attr("class", kind).attr("x", x).attr("y", y).attr("dy", ".34em").attr("text-anchor", "middle").text(text);
      labels.take(x, y, 7.2 * text.length + 8, 18);
    }

    function drawMarks(svg, labels) {
      for (const kind of ["as_set", "middle"]) {
        const point = chart[kind];
        if (!isWithin(point)) continue;
        const x = across(point.at[0]);
        const y = up(point.at[1]);
        svg.append("path").attr("d", signs[kind]).attr("class", "map-mark-halo").attr("transform", "translate(" + x + "," + y + ")");
        svg.append("path").attr("d", signs[kind]).attr("class", "map-mark map-mark-" + kind).attr("transform", "translate(" + x + "," + y + ")");
        labels.take(x, y, 30, 30);
      }
    }

    function drawContourLabels(svg, labels) {
      const told = new Set();
      for (const contour of chart.contours.slice().sort((a, b) => b.line.length - a.line.length)) {
        if (told.has(contour.time)) continue;
        const text = tidemark.say("time", contour.time).replace(/(:\d+) min$/, "$1");
        const width = 7.2 * text.length + 8;
        let best = { room: 3 };
        for (const [x, y] of placesOf(contour.line)) {
          const room = labels.room(across(x), up(y), width, 18);
          if (room > best.room) best = { room, x: across(x), y: up(y) };
        }
        if (best.x === undefined) continue;
        told.add(contour.time);
        drawText(svg, labels, text, best.x, best.y, "map-time");
      }
    }

    function draw(widthOnPaper) {
      const width = widthOnPaper || Math.max(frame.clientWidth, 240);
      const height = Math.round(Math.min(580, Math.max(300, 0.62 * width)));
      frame.textContent = "";
      const svg = d3.select(frame).append("svg").attr("viewBox", "0 0 " + width + " " + height).attr("aria-hidden", "true");
      across = d3.scale.linear().range([margin.left, width - margin.right]);
      up = d3.scale.linear().range([height - margin.bottom, margin.top]);
      const defs = svg.append("defs").node();
      outcomesIn(chart).forEach((zone) => addPattern(defs, patternId(zone), zone));
      drawAreas(svg);
      const line = d3.svg.line().x((p) => across(p[0])).y((p) => up(p[1]));
      chart.contours.forEach((contour) => svg.append("path").attr("class", "map-contour").attr("d", line(placesOf(contour.line))));
      chart.borders.forEach((border) => svg.append("path").attr("class", "map-border").attr("d", line(placesOf(border))));
      svg.append("rect").attr("class", "map-edge").attr("x", margin.left).attr("y", margin.top)
        .attr("width", width - margin.left - margin.right).attr("height", height - margin.top - margin.bottom);
      drawAxes(svg, width, height);
      const labels = new Labels(width, height);
      drawMarks(svg, labels);
      for (const zone of outcomesIn(chart)) {
        const half = 4.2 * chart.outcomes[zone].word.length + 6;
        const places = wordPlaces(chart, zone).map(({ i, j }) => ({
          x: Math.min(Math.max(across(i / (n - 1)), margin.left + half), width - margin.right - half),
          y: Math.min(Math.max(up(j / (n - 1)), margin.top + 12), height - margin.bottom - 12),
        }));
        const place = places.find(({ x, y }) => labels.room(x, y, 2 * half - 8, 16) > 0) || places[0];
        if (place) drawText(svg, labels, chart.outcomes[zone].word, place.x, place.y, "map-word");
      }
      drawContourLabels(svg, labels);
      ring = svg.append("g").attr("class", "map-ring").attr("visibility", "hidden");
      ring.append("circle").attr("r", 6).attr("class", "map-ring-halo");
      ring.append("circle").attr("r", 6);
      const goTo = (event) => {
        const box = frame.getBoundingClientRect();
        const at = (scale, range) => Math.round(Math.min(Math.max(scale.invert(range), 0), 1) * (n - 1));
        cursor = { i: at(across, ((event.clientX - box.left) * width) / box.width), j: at(up, ((event.clientY - box.top) * height) / box.height) };
        isPointed = true;
        tell();
      };
      svg.node().addEventListener("pointermove", goTo);
      svg.node().addEventListener("pointerdown", goTo);
      tell();
    }

    frame.addEventListener("keydown", (event) => {
      const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowDown: [0, -1], ArrowUp: [0, 1], PageDown: [0, -5], PageUp: [0, 5] };
      const move = moves[event.key];
      if (event.altKey || event.ctrlKey || event.metaKey || (!move && event.key !== "Home")) return;
      const within = (k) => Math.min(Math.max(k, 0), n - 1);
      cursor = move ? { i: within(cursor.i + move[0]), j: within(cursor.j + move[1]) } : { ...home };
      isPointed = true;
      event.preventDefault();
      tell();
    });
    new ResizeObserver(() => draw()).observe(frame);
    draw();
    return draw;
  }

  tidemark.charts.window = createMap;
})(window.tidemark);
