// A part in space that can be turned, coloured by one of its fields behind the front.
"use strict";

(function (tidemark) {
  const el = tidemark.element;
  const never = 1e30; // time at nodes that resin never reached: later than any

  const vertexShader = `
    attribute float time;
    attribute float value;
    attribute vec3 corner;
    varying float vTime;
    varying float vValue;
    varying vec3 vCorner;
    varying vec3 vEye;
    void main() {
      vTime = time;
      vValue = value;
      vCorner = corner;
      vec4 eye = modelViewMatrix * vec4(position, 1.0);
      vEye = eye.xyz;
      gl_Position = projectionMatrix * eye;
    }`;

  // The front is where the time at which resin comes is that of the slider: nothing else moves.
  const fragmentShader = `
    uniform float now;
    uniform float end;
    uniform float lineStep;
    uniform float lineStart;
    uniform bool isOfFilling;
    uniform bool showsMesh;
    uniform sampler2D map;
    uniform vec3 dryColour;
    uniform vec3 neverColour;
    uniform vec3 beyondColour;
    uniform vec3 frontColour;
    varying float vTime;
    varying float vValue;
    varying vec3 vCorner;
    varying vec3 vEye;
    void main() {
      vec3 normal = normalize(cross(dFdx(vEye), dFdy(vEye)));
      float light = 0.62 + 0.38 * abs(dot(normal, normalize(vEye)));
      vec3 colour = texture2D(map, vec2((clamp(vValue, 0.0, 1.0) * 255.0 + 0.5) / 256.0, 0.5)).rgb;
      float perPixel = fwidth(vValue);
      bool isBeyond = vValue > 1.001; // a scale of which others give the end
      if (isBeyond) {
        colour = beyondColour;
      } else if (lineStep > 0.0 && perPixel < 0.3 * lineStep && perPixel > 2e-5) { // no line all over a plain
        float place = (vValue - lineStart) / lineStep;
        float off = abs(fract(place - 0.5) - 0.5) * lineStep / max(perPixel, 1e-12);
        colour = mix(colour * 0.45, colour, smoothstep(0.3, 1.1, off));
      }
      if (vValue < -0.001) colour = dryColour; // there is no value
      bool isNever = vTime > end;
      bool isDry = vTime > now;
      if (isNever) {
        float stripe = mod(gl_FragCoord.x + gl_FragCoord.y, 10.0);
        vec3 there = stripe < 3.5 ? neverColour : dryColour;
        colour = isOfFilling ? there : mix(colour, there, 0.7);
      } else if (isDry) {
        colour = isOfFilling ? dryColour : mix(colour, dryColour, 0.7);
      }
      float timePerPixel = fwidth(vTime);
      if (now < end && !isNever && timePerPixel < 0.5 * end && abs(vTime - now) < 1.3 * timePerPixel) {
        colour = frontColour;
      }
      if (showsMesh) {
        vec3 perCorner = max(fwidth(vCorner), vec3(1e-6));
        vec3 edge = vCorner / perCorner;
        float nearest = min(min(edge.x, edge.y), edge.z);
        // Elements of a few pixels would be nothing but edges.
        float strength = 0.5 * smoothstep(0.4, 0.12, max(max(perCorner.x, perCorner.y), perCorner.z));
        colour *= mix(1.0 - strength, 1.0, smoothstep(0.4, 1.1, nearest));
      }
      gl_FragColor = vec4(colour * light, 1.0);
    }`;

  function hasWebGl() {
    try {
      const canvas = document.createElement("canvas");
      return Boolean(canvas.getContext("webgl2") || canvas.getContext("webgl"));
    } catch (error) {
      return false;
    }
  }

  // Three corners for each triangle, none shared, so that a triangle can have a colour of its own.
  function partGeometry(mesh) {
    const corners = tidemark.wholeNumbers(mesh.corners);
    // From the middle on: a part far from the origin keeps its digits.
    const axes = mesh.positions.map((axis, i) => tidemark.numbers(axis, mesh.middle[i]));
    const positions = new Float32Array(corners.length * 3);
    const marks = new Uint8Array(corners.length * 3);
    const inner = mesh.inner_sides ? tidemark.wholeNumbers(mesh.inner_sides) : null;
    for (let i = 0; i < corners.length; ++i) {
      for (let axis = 0; axis < 3; ++axis) {
        positions[3 * i + axis] = axes[axis][corners[i]];
        // Distance from the side opposite to corner "axis"; a diagonal of a quadrilateral is none.
        const isInner = inner !== null && (inner[Math.floor(i / 3)] & (1 << axis)) !== 0;
        marks[3 * i + axis] = i % 3 === axis || isInner ? 255 : 0;
      }
    }
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(positions, 3));
    geometry.setAttribute("corner", new THREE.BufferAttribute(marks, 3, true));
    geometry.computeBoundingSphere();
    return { geometry, corners, axes };
  }

  function colourTexture(stops) {
    const data = new Uint8Array(256 * 4);
    for (let i = 0; i < 256; ++i) {
      const colour = new THREE.Color(stops(i));
      data.set([Math.round(255 * colour.r), Math.round(255 * colour.g), Math.round(255 * colour.b), 255], 4 * i);
    }
    const texture = new THREE.DataTexture(data, 256, 1, THREE.RGBAFormat);
    texture.needsUpdate = true;
    return texture;
  }

  // Where to look from: along the shortest side of the part, from above and a little from the side.
  function startDirection(extent) {
    const flat = extent.indexOf(Math.min(...extent));
    const degrees = Math.PI / 180;
    const isFlat = extent[flat] < 0.35 * Math.max(...extent);
    const turn = !isFlat || flat === 2 ? -65 * degrees : flat === 1 ? -115 * degrees : -25 * degrees;
    const height = !isFlat ? 30 * degrees : flat === 2 ? 52 * degrees : 18 * degrees;
    return new THREE.Vector3(Math.cos(height) * Math.cos(turn), Math.cos(height) * Math.sin(turn), Math.sin(height));
  }

  // data: as report_view writes it. on: { picked(place), turned() }.
  function createView(holder, data, colours, on) {
    const canvas = el("canvas", { tabindex: "0", role: "application" });
    holder.append(canvas);
    const renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: false, preserveDrawingBuffer: true });
    const scene = new THREE.Scene();
    const { geometry, corners, axes } = partGeometry(data.mesh);
    const count = corners.length;
    const values = new Map(); // by field: at each node or triangle
    const valuesOf = (field) => {
      if (!values.has(field)) values.set(field, field.kind === "names" ? tidemark.wholeNumbers(field.packed) : tidemark.numbers(field.packed));
      return values.get(field);
    };
    const valueAt = (field, corner) => {
      if (field.at === "region") return field.by_region[valuesOf(data.fields.find((f) => f.key === "region"))[Math.floor(corner / 3)]];
      const position = field.at === "node" ? corners[corner] : Math.floor(corner / 3);
      const value = valuesOf(field)[position];
      return field.kind === "names" && value >= field.names.length ? NaN : value; // none
    };

    const times = new Float32Array(count);
    const timeField = data.fields.find((field) => field.key === "fill_time");
    for (let i = 0; i < count; ++i) {
      const time = timeField ? valueAt(timeField, i) : NaN;
      times[i] = Number.isFinite(time) ? time : never;
    }
    // Where a part has no front, all of it is there from the start.
    if (data.has_no_front) times.fill(0);
    const shares = new Float32Array(count);
    geometry.setAttribute("time", new THREE.BufferAttribute(times, 1));
    geometry.setAttribute("value", new THREE.BufferAttribute(shares, 1));
    const map = colourTexture((i) => colours.map[i]);
    const distinct = colourTexture((i) => colours.distinct[i % colours.distinct.length]);
    const end = data.end_time * (1 + 1e-4);
    const material = new THREE.ShaderMaterial({
      vertexShader, fragmentShader, side: THREE.DoubleSide, extensions: { derivatives: true },
      polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
      uniforms: {
        now: { value: end }, end: { value: end }, lineStep: { value: 0 }, lineStart: { value: 0 },
        isOfFilling: { value: true }, showsMesh: { value: false }, map: { value: map },
        dryColour: { value: new THREE.Color() }, neverColour: { value: new THREE.Color() }, frontColour: { value: new THREE.Color() },
        beyondColour: { value: new THREE.Color() },
      },
    });
    const part = new THREE.Mesh(geometry, material);
    scene.add(part);

    function atNodes(packed) {
      const nodes = tidemark.wholeNumbers(packed);
      const points = new Float32Array(nodes.length * 3);
      nodes.forEach((node, i) => axes.forEach((axis, a) => { points[3 * i + a] = axis[node]; }));
      const made = new THREE.BufferGeometry();
      made.setAttribute("position", new THREE.BufferAttribute(points, 3));
      return made;
    }
    const lines = new THREE.Group();
    // A browser draws lines of one pixel only: wider ones are several, side by side, on a paler rim.
    const pixel = { value: new THREE.Vector2() };
    const strokes = [{ colour: { value: new THREE.Color() }, name: "--channel-rim", radius: 2.4 }, { colour: { value: new THREE.Color() }, name: "--channel", radius: 1.1 }];
    strokes.forEach((stroke, order) => {
      for (const channel of data.channels) {
        const nodes = atNodes(channel.nodes);
        for (let turn = 0; turn < 12; ++turn) {
          const way = new THREE.Vector2(Math.cos(turn * Math.PI / 6), Math.sin(turn * Math.PI / 6)).multiplyScalar(stroke.radius);
          const material = new THREE.ShaderMaterial({
            uniforms: { pixel, colour: stroke.colour, way: { value: way }, nearer: { value: 1.5e-4 * (1 + 2 * order) } },
            vertexShader: `
              uniform vec2 pixel;
              uniform vec2 way;
              uniform float nearer;
              void main() {
                gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
                gl_Position.xy += way * pixel * gl_Position.w;
                gl_Position.z -= nearer * gl_Position.w; // before the surface beside it, and its rim
              }`,
            fragmentShader: "uniform vec3 colour; void main() { gl_FragColor = vec4(colour, 1.0); }",
          });
          const line = new THREE.LineSegments(nodes, material);
          line.renderOrder = 1 + order;
          lines.add(line);
        }
      }
    });
    scene.add(lines);
    // Gates and vents along a line or over a surface: a dot at each of their nodes.
    const dots = new THREE.Group();
    for (const port of data.port_nodes) {
      const made = new THREE.Points(atNodes(port.nodes), new THREE.PointsMaterial({ size: 5, sizeAttenuation: false }));
      made.userData = port.kind;
      dots.add(made);
    }
    scene.add(dots);

    const camera = new THREE.PerspectiveCamera(28, 1, 0.01, 100);
    camera.up.set(0, 0, 1);
    const controls = new THREE.OrbitControls(camera, canvas);
    controls.enableKeys = false; // they would be those of the whole page
    controls.enableZoom = false; // the wheel turns pages until the picture has been chosen
    controls.screenSpacePanning = true;
    const radius = Math.max(geometry.boundingSphere.radius, 1e-9);

    let width = 0;
    let height = 0;
    let isAsked = false;
    let isTold = true; // whether others hear of a turn
    const paint = () => {
      isAsked = false;
      camera.updateMatrixWorld();
      chooseSides();
      renderer.render(scene, camera);
    };
    const ask = () => {
      if (!isAsked) {
        isAsked = true;
        requestAnimationFrame(paint);
      }
    };

    // Where to stand so that the part fills the picture, with a little room.
    function fit(direction) {
      const up = Math.tan((camera.fov / 2) * (Math.PI / 180)) * 0.9;
      const across = up * Math.min(camera.aspect, 3);
      const right = new THREE.Vector3().crossVectors(camera.up, direction).normalize();
      const top = new THREE.Vector3().crossVectors(direction, right);
      const points = geometry.attributes.position;
      const stride = Math.ceil(points.count / 20000);
      const at = new THREE.Vector3();
      const each = (act) => { for (let i = 0; i < points.count; i += stride) act(at.fromBufferAttribute(points, i)); };
      const target = new THREE.Vector3();
      let distance = 0;
      for (let pass = 0; pass < 2; ++pass) { // the second with the part in the middle
        distance = radius * 0.1;
        each((point) => {
          point.sub(target);
          const near = point.dot(direction);
          distance = Math.max(distance, near + Math.abs(point.dot(right)) / across, near + Math.abs(point.dot(top)) / up);
        });
        const sides = { left: Infinity, right: -Infinity, low: Infinity, high: -Infinity };
        each((point) => {
          point.sub(target);
          const depth = distance - point.dot(direction);
          sides.left = Math.min(sides.left, point.dot(right) / depth);
          sides.right = Math.max(sides.right, point.dot(right) / depth);
          sides.low = Math.min(sides.low, point.dot(top) / depth);
          sides.high = Math.max(sides.high, point.dot(top) / depth);
        });
        if (pass === 0) {
          target.addScaledVector(right, (distance * (sides.left + sides.right)) / 2);
          target.addScaledVector(top, (distance * (sides.low + sides.high)) / 2);
        }
      }
      return { distance, target };
    }

    function start() {
      const direction = startDirection(data.mesh.extent);
      const { distance, target } = fit(direction);
      controls.target.copy(target);
      camera.position.copy(target).addScaledVector(direction, distance);
      camera.near = distance / 100;
      camera.far = distance * 20;
      controls.minDistance = distance / 60;
      controls.maxDistance = distance * 4;
      camera.updateProjectionMatrix();
      controls.update();
      ask();
    }

    const signs = new THREE.Group();
    scene.add(signs);
    let picked = null;
    let marksShown = true;

    function signTexture(kind, text, isTextLeft) {
      const made = tidemark.markPicture(kind, text, renderer.getPixelRatio(), isTextLeft);
      const texture = new THREE.CanvasTexture(made.canvas);
      texture.minFilter = THREE.LinearFilter;
      texture.generateMipmaps = false;
      return { texture, width: made.width, height: made.height };
    }

    // Names stand at the right of a sign, or at its left where they would leave the picture; the
    // numbers of places at the left, since places are often where a vent is.
    function addSign(kind, text, position) {
      const isName = kind === "gate" || kind === "vent";
      const sides = [signTexture(kind, text, !isName)];
      if (isName) sides.push(signTexture(kind, text, true));
      const sprite = new THREE.Sprite(new THREE.SpriteMaterial({ map: sides[0].texture, sizeAttenuation: false, depthTest: false, transparent: true }));
      sprite.position.copy(position);
      sprite.userData = sides;
      signs.add(sprite);
    }

    function chooseSides() {
      const at = new THREE.Vector3();
      for (const sprite of signs.children) {
        const sides = sprite.userData;
        if (sides.length < 2) continue;
        const x = ((at.copy(sprite.position).project(camera).x + 1) / 2) * width;
        const leaves = x + sides[0].width / 2 > width && x > sides[0].width / 2;
        sprite.material.map = sides[leaves ? 1 : 0].texture;
      }
    }

    function sizeSigns() {
      const perPixel = (2 * Math.tan((camera.fov / 2) * (Math.PI / 180))) / Math.max(height, 1);
      for (const sprite of signs.children) {
        sprite.scale.set(sprite.userData[0].width * perPixel, sprite.userData[0].height * perPixel, 1);
      }
    }

    function putSigns() {
      for (const sprite of signs.children) {
        sprite.userData.forEach((side) => side.texture.dispose());
        sprite.material.dispose();
      }
      signs.remove(...signs.children);
      if (marksShown) {
        // Those drawn last lie on top: gates and vents.
        for (const mark of [...data.marks].reverse()) {
          addSign(mark.kind, mark.label, new THREE.Vector3(...mark.at.map((x, a) => x - data.mesh.middle[a])));
        }
      }
      if (picked) addSign("picked", "", picked);
      sizeSigns();
      ask();
    }

    function resize() {
      const box = holder.getBoundingClientRect();
      if (box.width < 2 || box.height < 2) return;
      const first = width === 0;
      width = box.width;
      height = box.height;
      renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
      renderer.setSize(width, height, false);
      pixel.value.set(2 / width, 2 / height);
      camera.aspect = width / height;
      camera.updateProjectionMatrix();
      if (first) start();
      sizeSigns();
      paint();
    }

    function setTheme() {
      const colour = (name) => new THREE.Color(tidemark.styleColour(name));
      renderer.setClearColor(colour("--stage"));
      material.uniforms.dryColour.value = colour("--dry");
      material.uniforms.neverColour.value = colour("--never");
      material.uniforms.beyondColour.value = colour("--beyond");
      material.uniforms.frontColour.value = colour("--front");
      for (const stroke of strokes) stroke.colour.value = colour(stroke.name);
      for (const dot of dots.children) {
        dot.material.color = colour(tidemark.markKinds[dot.userData].colour);
        dot.material.size = 4 * renderer.getPixelRatio();
      }
      putSigns();
    }

    // range: { least, most } of the colours; lineStep: between contour lines, 0 for none [SI].
    function setField(field, range, lineStep) {
      const isNames = field.kind === "names";
      const span = isNames ? 255 : range.most - range.least;
      const least = isNames ? 0 : range.least;
      for (let i = 0; i < count; ++i) {
        const value = isNames ? valueAt(field, i) % colours.distinct.length : valueAt(field, i);
        shares[i] = Number.isFinite(value) ? (span > 0 ? (value - least) / span : 0.5) : -1e3;
      }
      geometry.attributes.value.needsUpdate = true;
      material.uniforms.map.value = isNames ? distinct : map;
      material.uniforms.isOfFilling.value = field.is_of_filling;
      const hasLines = lineStep > 0 && span > 0 && !isNames;
      material.uniforms.lineStep.value = hasLines ? lineStep / span : 0;
      material.uniforms.lineStart.value = hasLines ? (Math.ceil(least / lineStep) * lineStep - least) / span : 0;
      ask();
    }

    // Pixels from the left and top edge of the canvas.
    function pickAt(x, y) {
      const ray = new THREE.Raycaster();
      ray.setFromCamera(new THREE.Vector2((2 * x) / width - 1, 1 - (2 * y) / height), camera);
      const hit = ray.intersectObject(part)[0];
      picked = hit ? hit.point.clone() : null;
      on.picked(hit ? placeOf(hit) : null);
      putSigns();
    }

    function placeOf(hit) {
      const first = 3 * hit.faceIndex;
      const point = (i) => new THREE.Vector3().fromBufferAttribute(geometry.attributes.position, first + i);
      const weights = new THREE.Vector3();
      THREE.Triangle.getBarycoord(hit.point, point(0), point(1), point(2), weights);
      const mean = (field) => {
        if (field.at !== "node") return valueAt(field, first);
        const parts = [0, 1, 2].map((i) => valueAt(field, first + i));
        if (field.kind !== "names") return parts[0] * weights.x + parts[1] * weights.y + parts[2] * weights.z;
        return parts[[weights.x, weights.y, weights.z].indexOf(Math.max(weights.x, weights.y, weights.z))];
      };
      return {
        position: hit.point.toArray().map((x, axis) => x + data.mesh.middle[axis]),
        values: data.fields.map((field) => ({ field, value: mean(field) })),
      };
    }

    function pan(across, up) {
      const axis = (column) => new THREE.Vector3().setFromMatrixColumn(camera.matrix, column);
      const step = 0.06 * camera.position.distanceTo(controls.target);
      const by = axis(0).multiplyScalar(across * step).addScaledVector(axis(1), up * step);
      camera.position.add(by);
      controls.target.add(by);
      controls.update();
    }

    function turn(round, over) {
      const way = new THREE.Spherical();
      const offset = camera.position.clone().sub(controls.target);
      const stand = new THREE.Quaternion().setFromUnitVectors(camera.up, new THREE.Vector3(0, 1, 0));
      way.setFromVector3(offset.applyQuaternion(stand));
      way.theta += round;
      way.phi += over;
      way.makeSafe();
      offset.setFromSpherical(way).applyQuaternion(stand.inverse());
      camera.position.copy(controls.target).add(offset);
      controls.update();
    }

    function zoom(factor) {
      const offset = camera.position.clone().sub(controls.target).multiplyScalar(factor);
      offset.clampLength(controls.minDistance, controls.maxDistance);
      camera.position.copy(controls.target).add(offset);
      controls.update();
    }

    const step = Math.PI / 36;
    const keys = {
      ArrowLeft: (shift) => (shift ? pan(-1, 0) : turn(-step, 0)),
      ArrowRight: (shift) => (shift ? pan(1, 0) : turn(step, 0)),
      ArrowUp: (shift) => (shift ? pan(0, 1) : turn(0, -step)),
      ArrowDown: (shift) => (shift ? pan(0, -1) : turn(0, step)),
      "+": () => zoom(0.9), "=": () => zoom(0.9), "-": () => zoom(1 / 0.9),
      Home: start, 0: start,
      Enter: () => pickAt(width / 2, height / 2), " ": () => pickAt(width / 2, height / 2),
    };
    canvas.addEventListener("keydown", (event) => {
      const act = keys[event.key];
      if (!act || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      act(event.shiftKey);
    });
    let down = null;
    canvas.addEventListener("pointerdown", (event) => {
      canvas.focus({ preventScroll: true });
      down = { x: event.clientX, y: event.clientY };
    });
    canvas.addEventListener("click", (event) => {
      const isTurn = down && Math.hypot(event.clientX - down.x, event.clientY - down.y) > 4;
      const box = canvas.getBoundingClientRect();
      if (!isTurn) pickAt(event.clientX - box.left, event.clientY - box.top);
    });
    canvas.addEventListener("focus", () => { controls.enableZoom = true; });
    canvas.addEventListener("blur", () => { controls.enableZoom = false; });
    controls.addEventListener("change", () => {
      ask();
      if (isTold) on.turned();
    });

    // Printing takes what is on the page at that moment, and pictures in space come a frame late:
    // on paper a copy stands in their place.
    const copy = el("canvas", { class: "copy", "aria-hidden": "true" });
    holder.append(copy);
    function copyForPaper() {
      paint();
      copy.width = canvas.width;
      copy.height = canvas.height;
      copy.getContext("2d").drawImage(canvas, 0, 0);
    }

    setTheme();
    return {
      canvas, resize, setTheme, setField, start, paint, copyForPaper,
      setTime(time) {
        material.uniforms.now.value = time >= data.end_time ? end : time;
        ask();
      },
      showMesh(shown) {
        material.uniforms.showsMesh.value = shown;
        ask();
      },
      showMarks(shown) {
        marksShown = shown;
        dots.visible = shown;
        putSigns();
      },
      dropPick() {
        picked = null;
        putSigns();
      },
      // To look at the part from where another view does.
      follow(other) {
        isTold = false;
        camera.position.copy(other.camera.position);
        controls.target.copy(other.target);
        controls.update();
        isTold = true;
        ask();
      },
      stand: { camera, target: controls.target },
    };
  }

  Object.assign(tidemark, { hasWebGl, createView });
})(window.tidemark);
