// One or several views of a part with their controls: field, time, legend, picked place.
"use strict";

(function (tidemark) {
  const el = tidemark.element;
  const playing = 8; // seconds for the whole filling

  // What the values of a field span over all views.
  function rangeOf(views, key) {
    const ranges = views.flatMap((view) => view.fields.filter((field) => field.key === key && field.packed));
    return {
      least: Math.min(...ranges.map((field) => field.packed.least)),
      most: Math.max(...ranges.map((field) => field.packed.most)),
    };
  }

  function commonFields(views) {
    const isSame = (a, b) => a.key === b.key && String(a.names) === String(b.names);
    return views[0].fields.filter((field) => views.every((view) => view.fields.some((other) => isSame(field, other))));
  }

  function gradient(colours) {
    const stops = colours.map.filter((_, i) => i % 15 === 0);
    return "linear-gradient(to right, " + stops.join(", ") + ")";
  }

  // isPassed: some of the views have values beyond the range.
  function scaleLegend(field, range, ticks, colours, isPassed) {
    const span = range.most - range.least;
    const bar = el("div", { class: "scale" }, [
      el("div", { class: "scale-colours", style: "background: " + (span > 0 ? gradient(colours) : colours.map[128]) }),
    ]);
    const places = el("div", { class: "scale-ticks" });
    const shown = span > 0 ? ticks : [range.least];
    for (const tick of shown) {
      const share = span > 0 ? (100 * (tick - range.least)) / span : 50;
      const side = share < 4 ? "first" : share > 96 ? "final" : "";
      places.append(el("span", { class: side, style: "left: " + share + "%", text: tidemark.tickText(field.unit, tick, ticks) }));
    }
    bar.append(places);
    const unit = tidemark.axisUnit(field.unit, ticks);
    const beyond = isPassed
      ? [el("ul", { class: "names" }, [el("li", {}, [el("span", { class: "patch beyond" }), "later than the scale: after " + tidemark.say(field.unit, range.most)])])]
      : [];
    return [el("span", { class: "legend-title", text: field.label + ", " + unit }), bar, ...beyond];
  }

  function namesLegend(field, colours) {
    const list = el("ul", { class: "names" });
    field.names.forEach((name, i) => {
      list.append(el("li", {}, [el("span", { class: "patch", style: "background: " + colours.distinct[i % colours.distinct.length] }), name]));
    });
    return [el("span", { class: "legend-title", text: field.label }), list];
  }

  function signLegend(views) {
    const list = el("ul", { class: "names signs" });
    for (const kind of Object.keys(tidemark.markKinds)) {
      if (views.some((view) => view.marks.some((mark) => mark.kind === kind))) {
        list.append(el("li", {}, [tidemark.markSign(kind), tidemark.markKinds[kind].words]));
      }
    }
    if (views.some((view) => view.channels.length > 0)) {
      list.append(el("li", {}, [el("span", { class: "patch line" }), "runner or race track"]));
    }
    if (views.every((view) => !view.has_no_front)) {
      list.append(el("li", {}, [el("span", { class: "patch dry" }), "dry so far"]));
    }
    if (views.some((view) => view.has_never)) {
      list.append(el("li", {}, [el("span", { class: "patch never" }), "never reached"]));
    }
    return list;
  }

  function sayValue(field, value) {
    if (!Number.isFinite(value)) return field.is_of_filling && field.key !== "time_if_gate_here" ? "none: no resin came here" : "none";
    return field.kind === "names" ? field.names[value] : tidemark.say(field.unit, value);
  }

  function pickedText(place) {
    const list = el("dl", {});
    const add = (name, value) => list.append(el("div", {}, [el("dt", { text: name }), el("dd", { text: value })]));
    add("Place", ["x", "y", "z"].map((axis, i) => axis + " " + tidemark.say("length", place.position[i])).join(", "));
    for (const { field, value } of place.values) add(field.label, sayValue(field, value));
    return list;
  }

  // on.time(seconds): the slider has moved.
  function createPanel(holder, views, colours, on) {
    holder.textContent = "";
    if (!tidemark.hasWebGl()) {
      holder.append(el("p", { class: "missing", text: "This browser draws no pictures in space (WebGL is missing or switched off). All figures, plots and tables of this page are there without it." }));
      return null;
    }
    const fields = commonFields(views);
    // A run that comes to a stand creeps for hours: those that fill give the scales of time, if any do.
    const full = views.filter((view) => !view.is_short);
    const timed = full.length > 0 ? full : views;
    const endTime = Math.max(...timed.map((view) => view.end_time));
    const isLonger = views.some((view) => view.end_time > endTime);
    const hasFront = views.every((view) => !view.has_no_front) && endTime > 0;
    const state = { field: fields[0], time: endTime, lines: true };

    const choice = el("select", { id: holder.id + "-field" }, fields.map((field, i) => el("option", { value: i, text: field.label })));
    const check = (words, isOn, act) => {
      const box = el("input", { type: "checkbox", onchange: () => act(box.checked) });
      box.checked = isOn;
      return el("label", { class: "check" }, [box, words]);
    };
    const back = el("button", { type: "button", text: "View from the start" });
    const bar = el("div", { class: "bar controls" }, [
      el("label", { for: holder.id + "-field", text: "Show" }), choice,
      check("Contour lines", true, (isOn) => { state.lines = isOn; show(); }),
      check("Marks", true, (isOn) => made.forEach((view) => view.showMarks(isOn))),
      check("Mesh", false, (isOn) => made.forEach((view) => view.showMesh(isOn))),
      back,
    ]);

    const stages = el("div", { class: "stages" + (views.length > 1 ? " several" : "") + (views.length === 2 || views.length === 4 ? " in-twos" : "") });
    const legend = el("div", { class: "legend" });
    const play = el("button", { type: "button", class: "play", text: "Play" });
    const slider = el("input", { type: "range", min: "0", max: "1000", step: "1", value: "1000", "aria-label": "Time since the start of injection" });
    const told = el("output", { class: "told" });
    const timeBar = el("div", { class: "time-bar controls" }, [play, slider, told]);
    const picked = el("div", { class: "picked", "aria-live": "polite" }, [
      el("p", { text: "Click a place of the part to read its values." }),
    ]);
    const keys = el("p", { class: "keys controls", id: holder.id + "-keys", text: "Drag to turn, wheel or two fingers to zoom, right button to shift. With the picture chosen (Tab): arrows turn, with Shift they shift, + and - zoom, Home goes back, Enter reads the place in the middle." });
    holder.append(bar, stages, el("div", { class: "below" }, [legend, signLegend(views)]));
    if (hasFront) holder.append(timeBar);
    holder.append(picked, keys);

    const made = [];
    views.forEach((data, i) => {
      const stage = el("div", { class: "stage" });
      const figure = el("figure", {}, [stage]);
      if (views.length > 1) figure.prepend(el("figcaption", {}, [el("strong", { text: data.title }), " " + data.caption]));
      stages.append(figure);
      const view = tidemark.createView(stage, data, colours, {
        picked(place) {
          made.forEach((other, j) => { if (j !== i) other.dropPick(); });
          const heading = views.length > 1 && place ? [el("h3", { text: data.title })] : [];
          picked.replaceChildren(...heading, place ? pickedText(place) : el("p", { text: "There is nothing of the part. Click on it to read its values." }));
        },
        turned() { made.forEach((other, j) => { if (j !== i) other.follow(view.stand); }); },
      });
      view.canvas.setAttribute("aria-label", (views.length > 1 ? data.title + ": " : "") + "picture of the part that can be turned");
      view.canvas.setAttribute("aria-describedby", holder.id + "-keys");
      view.canvas.addEventListener("webglcontextlost", () => {
        stage.append(el("p", { class: "missing", text: "The picture was lost; load the page again to see it." }));
      });
      made.push(view);
    });

    function show() {
      const range = rangeOf(state.field.key === "fill_time" ? timed : views, state.field.key);
      const isPassed = rangeOf(views, state.field.key).most > range.most + 1e-3 * (range.most - range.least);
      const isNames = state.field.kind === "names";
      const ticks = isNames ? [] : tidemark.ticks(state.field.unit, range.least, range.most, 6);
      const step = state.lines && ticks.length > 1 ? (ticks[1] - ticks[0]) / 2 : 0;
      made.forEach((view, i) => view.setField(views[i].fields.find((field) => field.key === state.field.key), range, step));
      legend.replaceChildren(...(isNames ? namesLegend(state.field, colours) : scaleLegend(state.field, range, ticks, colours, isPassed)));
    }

    function tell() {
      const course = views.length === 1 ? views[0].course : null;
      let text = tidemark.say("time", state.time);
      if (course && course.time.length > 0) {
        const i = d3.bisectLeft(course.time, state.time);
        const [a, b] = [Math.max(0, i - 1), Math.min(i, course.time.length - 1)];
        const span = course.time[b] - course.time[a];
        const share = span > 0 ? (state.time - course.time[a]) / span : 0;
        const filled = course.filled[a] + share * (course.filled[b] - course.filled[a]);
        text += ", " + tidemark.say("share", filled) + " filled";
      }
      if (isLonger && state.time >= endTime) text += "; runs that go on longer are shown at their end";
      told.textContent = text;
      slider.setAttribute("aria-valuetext", text);
    }

    function setTime(time, isFromSlider) {
      state.time = Math.min(Math.max(time, 0), endTime);
      if (!isFromSlider) slider.value = String(Math.round((1000 * state.time) / endTime));
      made.forEach((view) => view.setTime(state.time < endTime ? state.time : Infinity));
      tell();
      on.time(state.time);
    }

    let run = null; // while it plays
    function stop() {
      if (run !== null) cancelAnimationFrame(run);
      run = null;
      play.textContent = "Play";
    }
    function go() {
      let last = null;
      if (state.time >= endTime) setTime(0);
      play.textContent = "Pause";
      const next = (now) => {
        if (last !== null) setTime(state.time + ((now - last) / 1000) * (endTime / playing));
        last = now;
        if (state.time >= endTime) stop();
        else run = requestAnimationFrame(next);
      };
      run = requestAnimationFrame(next);
    }

    choice.addEventListener("change", () => { state.field = fields[Number(choice.value)]; show(); });
    slider.addEventListener("input", () => { stop(); setTime((endTime * Number(slider.value)) / 1000, true); });
    play.addEventListener("click", () => (run === null ? go() : stop()));
    back.addEventListener("click", () => made.forEach((view) => view.start()));
    const resize = () => made.forEach((view) => view.resize());
    new ResizeObserver(resize).observe(stages);
    resize();
    show();
    if (hasFront) setTime(endTime);
    return {
      setTime(time) { stop(); setTime(time); },
      setTheme() {
        made.forEach((view) => { view.setTheme(); view.paint(); });
        holder.querySelector(".signs").replaceWith(signLegend(views));
      },
      copyForPaper() { made.forEach((view) => view.copyForPaper()); },
    };
  }

  tidemark.createPanel = createPanel;
})(window.tidemark);
