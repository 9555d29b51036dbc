// How a figure spreads over samples: how often each value came, and the share of samples below
// each value, over one axis, with quantiles and the case as it is.
"use strict";

(function (tidemark) {
  const el = tidemark.element;
  const margin = { left: 56, right: 16, top: 30, bottom: 36 };
  const barsHeight = 120;
  const gap = 16;
  const curveHeight = 130;
  const height = margin.top + barsHeight + gap + curveHeight + margin.bottom;

  // Round limits of classes that hold all values: more of them for more samples.
  function classesOf(chart) {
    const least = chart.values[0];
    const most = chart.values[chart.values.length - 1];
    const wanted = Math.min(24, Math.max(9, Math.round(1.6 * Math.sqrt(chart.values.length))));
    const inner = tidemark.ticks(chart.unit, least, most, wanted);
    const step = inner.length > 1 ? inner[1] - inner[0] : (most - least) / wanted;
    const first = inner[0] > least ? inner[0] - step : inner[0];
    const limits = d3.range(Math.ceil((most - first) / step - 1e-9) + 1).map((k) => first + k * step);
    const bins = limits.slice(1).map((to, k) => ({ from: limits[k], to, count: 0 }));
    for (const value of chart.values) {
      const k = Math.min(bins.length - 1, Math.max(0, Math.floor((value - first) / step)));
      ++bins[k].count;
    }
    return bins;
  }

  const shareText = (share) => Math.round(100 * share) + " %";

  function values(chart) {
    const item = (mark, text) => el("li", {}, [el("span", { class: mark }), text]);
    const items = chart.quantiles.map((one) => item("stroke spread-quantile-key", shareText(one.share) + " below " + tidemark.say(chart.unit, one.value)));
    if (chart.as_it_is !== null) items.push(item("stroke spread-own-key", "the case as it is: " + tidemark.say(chart.unit, chart.as_it_is)));
    return el("ul", { class: "plot-values" }, items);
  }

  function drawQuantiles(svg, chart, across, up) {
    for (const one of chart.quantiles) {
      const x = across(one.value);
      svg.append("line").attr("class", "spread-quantile").attr("x1", x).attr("x2", x).attr("y1", margin.top).attr("y2", height - margin.bottom);
      svg.append("circle").attr("class", "spread-dot").attr("cx", x).attr("cy", up(one.share)).attr("r", 3.5);
    }
    let last = -Infinity;
    for (const one of chart.quantiles) {
      const x = across(one.value);
      if (x - last < 40) continue;
      svg.append("text").attr("class", "tick").attr("x", x).attr("y", margin.top - 8).attr("text-anchor", "middle").text(shareText(one.share));
      last = x;
    }
  }

  function drawBars(svg, bins, across) {
    const most = d3.max(bins, (bin) => bin.count);
    const bottom = margin.top + barsHeight;
    const up = d3.scale.linear().domain([0, most * 1.05]).range([bottom, margin.top]);
    for (const level of up.ticks(3).filter((count) => Number.isInteger(count))) {
      svg.append("line").attr("class", "grid").attr("x1", margin.left).attr("x2", across.range()[1]).attr("y1", up(level)).attr("y2", up(level));
      svg.append("text").attr("class", "tick").attr("x", margin.left - 6).attr("y", up(level)).attr("dy", ".32em").attr("text-anchor", "end").text(level);
    }
    for (const bin of bins) {
      const width = Math.max(1, across(bin.to) - across(bin.from) - 1.5);
      svg.append("rect").attr("class", "spread-bar").attr("x", across(bin.from) + 0.75).attr("width", width)
        .attr("y", up(bin.count)).attr("height", bottom - up(bin.count));
    }
    svg.append("line").attr("class", "axis").attr("x1", margin.left).attr("x2", across.range()[1]).attr("y1", bottom).attr("y2", bottom);
    svg.append("text").attr("class", "tick").attr("transform", "translate(12," + (margin.top + bottom) / 2 + ") rotate(-90)").attr("text-anchor", "middle").text("samples");
  }

  function drawCurve(svg, chart, across, up) {
    const n = chart.values.length;
    const [low, high] = across.domain();
    for (const level of [0, 0.5, 1]) {
      svg.append("line").attr("class", "grid").attr("x1", margin.left).attr("x2", across.range()[1]).attr("y1", up(level)).attr("y2", up(level));
      svg.append("text").attr("class", "tick").attr("x", margin.left - 6).attr("y", up(level)).attr("dy", ".32em").attr("text-anchor", "end").text(Math.round(100 * level));
    }
    const points = [[low, 0], ...chart.values.map((value, k) => [value, (k + 1) / n]), [high, 1]];
    svg.append("path").attr("class", "line line-0")
      .attr("d", d3.svg.line().interpolate("step-after").x((p) => across(p[0])).y((p) => up(p[1]))(points));
    svg.append("text").attr("class", "tick").attr("transform", "translate(12," + (up(0) + up(1)) / 2 + ") rotate(-90)").attr("text-anchor", "middle").text("% below");
  }

  function createSpread(holder, chart) {
    const frame = el("div", { class: "plot-frame" });
    holder.append(el("h3", { text: chart.title }), frame, values(chart));
    const bins = classesOf(chart);

    function draw(widthOnPaper) {
      const width = widthOnPaper ? widthOnPaper / 2 : Math.max(frame.clientWidth, 200);
      frame.textContent = "";
      const svg = d3.select(frame).append("svg").attr("viewBox", "0 0 " + width + " " + height)
        .attr("role", "img").attr("aria-label", chart.title + ": how often each value came, and the share of samples below it; quantiles stand in a table");
      const ends = [bins[0].from, bins[bins.length - 1].to].concat(chart.as_it_is === null ? [] : [chart.as_it_is]);
      const across = d3.scale.linear().domain(d3.extent(ends)).range([margin.left, width - margin.right]);
      const bottom = height - margin.bottom;
      const up = d3.scale.linear().domain([0, 1]).range([bottom, margin.top + barsHeight + gap]);
      const [low, high] = across.domain();
      const ticks = tidemark.ticks(chart.unit, low, high, width < 420 ? 4 : 7);
      for (const tick of ticks) {
        svg.append("line").attr("class", "axis").attr("x1", across(tick)).attr("x2", across(tick)).attr("y1", bottom).attr("y2", bottom + 4);
        svg.append("text").attr("class", "tick").attr("x", across(tick)).attr("y", bottom + 16).attr("text-anchor", "middle").text(tidemark.tickText(chart.unit, tick, ticks));
      }
      svg.append("text").attr("class", "tick").attr("x", width - margin.right).attr("y", height - 4).attr("text-anchor", "end").text(tidemark.axisUnit(chart.unit, ticks));
      drawBars(svg, bins, across);
      drawCurve(svg, chart, across, up);
      drawQuantiles(svg, chart, across, up);
      if (chart.as_it_is !== null) {
        const x = across(chart.as_it_is);
        svg.append("line").attr("class", "spread-own").attr("x1", x).attr("x2", x).attr("y1", margin.top).attr("y2", bottom);
        svg.append("path").attr("class", "spread-own-sign").attr("d", "M0,-6L6,0L0,6L-6,0Z").attr("transform", "translate(" + x + "," + (margin.top + barsHeight + gap / 2) + ")");
      }
    }
    new ResizeObserver(() => draw()).observe(frame);
    draw();
    return draw;
  }

  tidemark.charts.spread = createSpread;
})(window.tidemark);
