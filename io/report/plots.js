// Plots over time: lines, limits drawn in, and the values at the time pointed at or that of the
// slider.
"use strict";

(function (tidemark) {
  const el = tidemark.element;
  const margin = { top: 10, right: 14, bottom: 34, left: 52 };
  const height = 210;

  function valueAt(series, time) {
    const { x, y } = series;
    if (x.length === 0 || time < x[0] || time > x[x.length - 1] * (1 + 1e-9)) return null;
    const i = Math.min(d3.bisectLeft(x, time), x.length - 1);
    if (i === 0 || series.is_stepped) return y[i];
    const span = x[i] - x[i - 1];
    return span > 0 ? y[i - 1] + ((time - x[i - 1]) / span) * (y[i] - y[i - 1]) : y[i];
  }

  // plot: { title, unit, series: [{ label, x, y, is_limit, is_stepped }] }; on.time(seconds): a
  // time was chosen in the plot.
  function createPlot(holder, plot, endTime, on) {
    const all = Math.max(0, ...plot.series.flatMap((series) => series.y.filter(Number.isFinite)));
    // A peak in the first moment, such as the flow under constant pressure, must not flatten the rest.
    const later = Math.max(0, ...plot.series.flatMap((series) => series.y.filter((y, i) => Number.isFinite(y) && series.x[i] >= 0.01 * endTime)));
    const isCut = later > 0 && all > 3 * later;
    const highest = isCut ? 1.5 * later : all;
    const lowest = Math.min(0, ...plot.series.flatMap((series) => series.y.filter(Number.isFinite)));
    const top = highest > lowest ? highest + 0.06 * (highest - lowest) : lowest + 1;
    const values = el("ul", { class: "plot-values" });
    const frame = el("div", { class: "plot-frame" });
    holder.append(el("h3", { text: plot.title }), frame, values);
    const clip = "clip-" + holder.dataset.plot;
    const told = plot.series.map((series, i) => {
      const text = el("span", {});
      values.append(el("li", {}, [el("span", { class: "stroke line-" + (series.is_limit ? "limit" : i % 6) }), series.label + ": ", text]));
      return text;
    });
    if (isCut) values.append(el("li", { class: "note", text: "At first up to " + tidemark.say(plot.unit, all) + ", beyond the plot." }));
    let sliderTime = endTime;
    let rule = null;
    let across = null;

    function tell(time) {
      plot.series.forEach((series, i) => {
        const isOver = series.x.length > 0 && time > series.x[series.x.length - 1] * (1 + 1e-9);
        told[i].textContent = isOver ? "over" : tidemark.say(plot.unit, valueAt(series, time));
      });
      if (rule) rule.attr("x1", across(time)).attr("x2", across(time));
    }

    function draw() {
      const width = Math.max(frame.clientWidth, 200);
      frame.textContent = "";
      const svg = d3.select(frame).append("svg").attr("viewBox", "0 0 " + width + " " + height)
        .attr("role", "img").attr("aria-label", plot.title + " over time; the values stand below");
      across = d3.scale.linear().domain([0, endTime]).range([margin.left, width - margin.right]);
      const up = d3.scale.linear().domain([lowest, top]).range([height - margin.bottom, margin.top]);
      const times = tidemark.ticks("time", 0, endTime, width < 420 ? 4 : 7);
      const levels = tidemark.ticks(plot.unit, lowest, top, 5);
      const bottom = height - margin.bottom;
      svg.append("clipPath").attr("id", clip).append("rect").attr("x", margin.left).attr("y", margin.top - 2)
        .attr("width", width - margin.left - margin.right).attr("height", bottom - margin.top + 4);
      for (const level of levels) {
        svg.append("line").attr("class", "grid").attr("x1", margin.left).attr("x2", width - margin.right).attr("y1", up(level)).attr("y2", up(level));
        svg.append("text").attr("class", "tick").attr("x", margin.left - 6).attr("y", up(level)).attr("dy", ".32em")
          .attr("text-anchor", "end").text(tidemark.tickText(plot.unit, level, levels));
      }
      for (const time of times) {
        svg.append("line").attr("class", "grid").attr("x1", across(time)).attr("x2", across(time)).attr("y1", bottom).attr("y2", bottom + 4);
        svg.append("text").attr("class", "tick").attr("x", across(time)).attr("y", bottom + 16).attr("text-anchor", "middle")
          .text(tidemark.tickText("time", time, times));
      }
      svg.append("text").attr("class", "tick").attr("x", width - margin.right).attr("y", height - 4).attr("text-anchor", "end")
        .text("time, " + tidemark.axisUnit("time", times));
      svg.append("text").attr("class", "tick").attr("transform", "translate(12," + (margin.top + bottom) / 2 + ") rotate(-90)")
        .attr("text-anchor", "middle").text(tidemark.axisUnit(plot.unit, levels));
      svg.append("line").attr("class", "axis").attr("x1", margin.left).attr("x2", width - margin.right).attr("y1", up(Math.max(lowest, 0))).attr("y2", up(Math.max(lowest, 0)));
      plot.series.forEach((series, i) => {
        const line = d3.svg.line().x((k) => across(series.x[k])).y((k) => up(series.y[k]))
          .defined((k) => Number.isFinite(series.y[k]));
        if (series.is_stepped) line.interpolate("step-before");
        svg.append("path").attr("class", "line line-" + (series.is_limit ? "limit" : i % 6)).attr("clip-path", "url(#" + clip + ")")
          .attr("d", line(d3.range(series.x.length)));
      });
      rule = svg.append("line").attr("class", "rule").attr("y1", margin.top).attr("y2", bottom);
      const timeOf = (event) => {
        const box = frame.getBoundingClientRect();
        return Math.min(Math.max(across.invert(((event.clientX - box.left) * width) / box.width), 0), endTime);
      };
      svg.node().addEventListener("pointermove", (event) => tell(timeOf(event)));
      svg.node().addEventListener("pointerleave", () => tell(sliderTime));
      svg.node().addEventListener("click", (event) => on.time(timeOf(event)));
      tell(sliderTime);
    }

    new ResizeObserver(draw).observe(frame);
    draw();
    return {
      setTime(time) {
        sliderTime = time;
        tell(time);
      },
    };
  }

  tidemark.createPlot = createPlot;
})(window.tidemark);
