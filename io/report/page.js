// Puts the pictures and plots where the page has room for them.
"use strict";

(function (tidemark) {
  const data = JSON.parse(document.getElementById("data").textContent);
  const panels = [];
  const plots = [];
  const charts = []; // functions that draw them, at the width there is or a given one
  const paperWidth = 640; // in pixels, so that letters have their size in print
  const tell = (time) => plots.forEach((plot) => plot.setTime(time));

  document.querySelectorAll("[data-plot]").forEach((holder) => {
    const plot = data.plots[Number(holder.dataset.plot)];
    plots.push(tidemark.createPlot(holder, plot, data.end_time, {
      time(seconds) {
        tell(seconds);
        panels.forEach((panel) => panel.setTime(seconds));
      },
    }));
  });
  document.querySelectorAll("[data-panel]").forEach((holder) => {
    const views = data.panels[Number(holder.dataset.panel)].map((view) => ({ ...view, mesh: data.meshes[view.mesh] }));
    const panel = tidemark.createPanel(holder, views, data.colours, { time: tell });
    if (panel) panels.push(panel);
  });
  document.querySelectorAll("[data-chart]").forEach((holder) => {
    const chart = data.charts[Number(holder.dataset.chart)];
    holder.textContent = "";
    charts.push(tidemark.charts[chart.kind](holder, chart));
  });

  const setTheme = () => panels.forEach((panel) => panel.setTheme());
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", setTheme);
  // Paper is white, whatever the screen is.
  window.addEventListener("beforeprint", () => {
    document.documentElement.classList.add("on-paper");
    setTheme();
    panels.forEach((panel) => panel.copyForPaper());
    charts.forEach((draw) => draw(paperWidth));
  });
  window.addEventListener("afterprint", () => {
    document.documentElement.classList.remove("on-paper");
    setTheme();
    charts.forEach((draw) => draw());
  });
})(window.tidemark);
