// What the report page can do beyond paper: findings light up everywhere at once, the
// traces can be gone through, piece and cell can be turned. Reads three blocks of
// numbers in the page; loads nothing. Without it the page says the same.
(function () {
  "use strict";

  function block(id) {
    var element = document.getElementById(id);
    return element ? JSON.parse(element.textContent) : null;
  }

  function make(tag, attributes, text) {
    var element = document.createElement(tag);
    Object.keys(attributes || {}).forEach(function (name) { element.setAttribute(name, attributes[name]); });
    if (text) element.textContent = text;
    return element;
  }

  function clock(seconds) {
    var whole = Math.round(seconds), minutes = Math.floor(whole / 60), rest = whole % 60;
    return minutes + ":" + (rest < 10 ? "0" : "") + rest;
  }

  var marks = block("finding-marks") || [];
  var watchers = [];
  var lit = null;

  // One finding is lit on the page at a time, wherever its number stands.
  function light(number) {
    if (number === lit) return;
    lit = number;
    document.querySelectorAll("[data-f]").forEach(function (element) {
      element.classList.toggle("on", element.getAttribute("data-f") === String(number));
    });
    watchers.forEach(function (watch) { watch(number); });
  }

  function tieFindings() {
    document.querySelectorAll("[data-f]").forEach(function (element) {
      var number = Number(element.getAttribute("data-f"));
      element.addEventListener("mouseenter", function () { light(number); });
      element.addEventListener("focus", function () { light(number); });
      element.addEventListener("click", function () { light(number); });
    });
    window.addEventListener("hashchange", lightHash);
    lightHash();
  }

  function lightHash() {
    var found = /^#f(\d+)$/.exec(window.location.hash);
    if (found) light(Number(found[1]));
  }

  function button(text, label, act) {
    var element = make("button", {type: "button", "aria-label": label}, text);
    element.addEventListener("click", act);
    return element;
  }

  // ---- traces ----------------------------------------------------------------

  function rowsOf(trace) {
    return trace.time_s.map(function (time, i) {
      return [time, [trace.low[i], trace.high[i], trace.high[i]]];
    });
  }

  function drawMarks(trace) {
    return function (canvas, area, chart) {
      if (trace.limit !== null) {
        var y = chart.toDomYCoord(trace.limit);
        canvas.strokeStyle = "#a3341c";
        canvas.setLineDash([5, 3]);
        canvas.beginPath();
        canvas.moveTo(area.x, y);
        canvas.lineTo(area.x + area.w, y);
        canvas.stroke();
        canvas.setLineDash([]);
      }
      marks.forEach(function (mark) {
        if (mark.time_s === null) return;
        var x = chart.toDomXCoord(mark.time_s);
        canvas.strokeStyle = mark.fails ? "#a3341c" : "#1d2430";
        canvas.lineWidth = mark.number === lit ? 3 : 1;
        canvas.beginPath();
        canvas.moveTo(x, area.y);
        canvas.lineTo(x, area.y + area.h);
        canvas.stroke();
      });
      canvas.lineWidth = 1;
    };
  }

  function drawCharts() {
    var place = document.getElementById("charts"), data = block("over-the-job");
    if (!place || !data || typeof Dygraph === "undefined") return;
    place.hidden = false;
    document.querySelectorAll(".strip").forEach(function (svg) { svg.classList.add("paper"); });
    var charts = [], whole = [data.from_s, data.to_s], told = make("output", {"class": "told", "aria-live": "polite"});

    function show(window_s) {
      var length = Math.min(Math.max(window_s[1] - window_s[0], 0.05), whole[1] - whole[0]);
      var from = Math.min(Math.max(window_s[0], whole[0]), whole[1] - length);
      charts.forEach(function (chart) { chart.updateOptions({dateWindow: [from, from + length]}); });
      told.textContent = "shown: " + clock(from) + " to " + clock(from + length);
    }
    function current() { return charts[0].xAxisRange(); }
    function move(share) {
      var now = current(), step = share * (now[1] - now[0]);
      show([now[0] + step, now[1] + step]);
    }
    function zoom(factor) {
      var now = current(), middle = (now[0] + now[1]) / 2, half = factor * (now[1] - now[0]) / 2;
      show([middle - half, middle + half]);
    }

    data.traces.forEach(function (trace) {
      var box = make("div", {"class": "trace"}), sheet = make("div", {"class": "sheet"});
      box.appendChild(make("p", {"class": "name"}, trace.name + ", " + trace.unit));
      box.appendChild(sheet);
      place.appendChild(box);
      charts.push(new Dygraph(sheet, rowsOf(trace), {
        labels: ["time", trace.name], customBars: true, color: "#1d2430", strokeWidth: 1, fillAlpha: 0.35,
        drawPoints: false, highlightCircleSize: 3, axisLineColor: "#6b7080", gridLineColor: "#d8d4c8", axisLabelWidth: 46,
        includeZero: true, legend: "never", underlayCallback: drawMarks(trace),
        axes: {x: {axisLabelFormatter: clock, valueFormatter: clock}},
        highlightCallback: function (event, time, points) {
          charts.forEach(function (chart) { if (chart !== charts[0]) chart.setSelection(false); });
          if (points.length) told.textContent = clock(time) + ": " + trace.name + " " + Number(points[0].yval.toPrecision(3)) + " " + trace.unit;
        },
        zoomCallback: function (from, to) { show([from, to]); },
        clickCallback: function (event, time) { lightNearest(time, current()); }
      }));
    });

    var bar = make("div", {"class": "keys", role: "group", "aria-label": "Move through the job"});
    bar.appendChild(button("◂ earlier", "show an earlier part of the job", function () { move(-0.5); }));
    bar.appendChild(button("later ▸", "show a later part of the job", function () { move(0.5); }));
    bar.appendChild(button("closer", "show a shorter part of the job", function () { zoom(0.5); }));
    bar.appendChild(button("wider", "show a longer part of the job", function () { zoom(2); }));
    bar.appendChild(button("whole job", "show the whole job", function () { show(whole); }));
    bar.appendChild(told);
    place.insertBefore(bar, place.firstChild);
    watchers.push(function (number) {
      var mark = marks.filter(function (m) { return m.number === number; })[0], now = current();
      if (mark && mark.time_s !== null && (mark.time_s < now[0] || mark.time_s > now[1])) {
        var half = (now[1] - now[0]) / 2;
        show([mark.time_s - half, mark.time_s + half]);
      } else {
        charts.forEach(function (chart) { chart.updateOptions({}); });
      }
    });
  }

  function lightNearest(time, now) {
    var best = null, least = 0.02 * (now[1] - now[0]);
    marks.forEach(function (mark) {
      if (mark.time_s === null || Math.abs(mark.time_s - time) > least) return;
      least = Math.abs(mark.time_s - time);
      best = mark.number;
    });
    if (best !== null) light(best);
  }

  // ---- solids ----------------------------------------------------------------

  function bytesOf(text) {
    var raw = atob(text), bytes = new Uint8Array(raw.length);
    for (var i = 0; i < raw.length; ++i) bytes[i] = raw.charCodeAt(i);
    return bytes;
  }

  function wordsOf(text) {
    var bytes = bytesOf(text), words = new Uint16Array(bytes.length / 2);
    for (var i = 0; i < words.length; ++i) words[i] = bytes[2 * i] | bytes[2 * i + 1] << 8;
    return words;
  }

  function geometryOf(body) {
    var steps = wordsOf(body.v), places = new Float32Array(steps.length);
    for (var i = 0; i < steps.length; ++i) places[i] = body.low_mm[i % 3] + body.step_mm * steps[i];
    var geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(places, 3));
    geometry.setIndex(new THREE.BufferAttribute(wordsOf(body.i), 1));
    return geometry;
  }

  function pieceOf(data) {
    var geometry = geometryOf(data.piece), steps = bytesOf(data.piece.d), colours = new Float32Array(3 * steps.length);
    var scale = data.scale.map(function (hex) { return new THREE.Color(hex); }), other = new THREE.Color(data.other);
    for (var i = 0; i < steps.length; ++i) {
      var step = steps[i] > 127 ? steps[i] - 256 : steps[i];
      var colour = step === 127 ? other : scale[step + (scale.length - 1) / 2];
      colours.set([colour.r, colour.g, colour.b], 3 * i);
    }
    geometry.setAttribute("color", new THREE.BufferAttribute(colours, 3));
    geometry.computeVertexNormals();
    var mesh = new THREE.Mesh(geometry, new THREE.MeshLambertMaterial({vertexColors: THREE.VertexColors, side: THREE.DoubleSide}));
    mesh.matrixAutoUpdate = false;
    var m = data.X_WS;
    mesh.matrix.set(m[0], m[1], m[2], m[3], m[4], m[5], m[6], m[7], m[8], m[9], m[10], m[11], m[12], m[13], m[14], m[15]);
    return mesh;
  }

  var tones = {arm: "#b9b8b2", spindle: "#8d8f92", holder: "#77797d", cutter: "#1d2430", fixture: "#cbb98f", obstacle: "#9aa3a8"};

  function bodyOf(body) {
    var through = body.kind === "obstacle";
    var material = new THREE.MeshLambertMaterial({color: tones[body.kind] || "#999999", side: THREE.DoubleSide, flatShading: true,
                                                  transparent: through, opacity: through ? 0.35 : 1});
    return new THREE.Mesh(geometryOf(body), material);
  }

  function Turntable(data, place) {
    var canvas = make("canvas", {tabindex: "0", role: "img",
      "aria-label": "Carved piece and cell, to be turned: arrow keys turn, plus and minus move nearer and away"});
    this.renderer = new THREE.WebGLRenderer({canvas: canvas, antialias: true, preserveDrawingBuffer: true});
    this.renderer.setClearColor("#fbfaf6", 1);
    this.canvas = canvas;
    this.place = place;
    this.scene = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(35, 16 / 9, 1, 50000);
    this.camera.up.set(0, 0, 1);
    this.scene.add(new THREE.HemisphereLight(0xffffff, 0x9a958a, 0.5));
    this.lamp = new THREE.DirectionalLight(0xffffff, 0.75);
    this.scene.add(this.lamp);
    this.piece = pieceOf(data);
    this.scene.add(this.piece);
    this.cell = new THREE.Group();
    var cell = this.cell;
    data.bodies.forEach(function (body) { cell.add(bodyOf(body)); });
    this.scene.add(cell);
    this.flags = this.makeFlags();
    this.angle = -1.1;
    this.height = 0.75;
    this.showPiece();
  }

  // A pin for each finding that has a place on the piece.
  Turntable.prototype.makeFlags = function () {
    var self = this, flags = [];
    marks.forEach(function (mark) {
      if (!mark.at_mm) return;
      var pin = new THREE.Mesh(new THREE.SphereBufferGeometry(1, 12, 8), new THREE.MeshBasicMaterial({color: mark.fails ? "#a3341c" : "#1d2430"}));
      pin.position.set(mark.at_mm[0], mark.at_mm[1], mark.at_mm[2]).applyMatrix4(self.piece.matrix);
      pin.userData = mark;
      self.scene.add(pin);
      flags.push(pin);
    });
    return flags;
  };

  Turntable.prototype.frame = function (box) {
    var sphere = new THREE.Sphere();
    box.getBoundingSphere(sphere);
    this.centre = sphere.center.clone();
    this.size = Math.max(sphere.radius, 1);
    this.away = this.size / Math.sin(this.camera.fov * Math.PI / 360);
    this.draw();
  };

  Turntable.prototype.boxOfPiece = function () {
    this.piece.geometry.computeBoundingBox();
    return this.piece.geometry.boundingBox.clone().applyMatrix4(this.piece.matrix);
  };

  Turntable.prototype.showPiece = function () {
    this.cell.visible = false;
    this.frame(this.boxOfPiece());
  };

  Turntable.prototype.showCell = function () {
    this.cell.visible = true;
    this.frame(new THREE.Box3().setFromObject(this.cell).union(this.boxOfPiece()));
  };

  Turntable.prototype.draw = function () {
    var width = this.place.clientWidth || 960, tall = Math.round(width * 9 / 16), self = this;
    this.renderer.setSize(width, tall, false);
    this.camera.aspect = width / tall;
    this.camera.near = this.away / 100;
    this.camera.far = this.away * 20 + 10 * this.size;
    this.camera.updateProjectionMatrix();
    var flat = this.away * Math.cos(this.height);
    this.camera.position.set(this.centre.x + flat * Math.cos(this.angle), this.centre.y + flat * Math.sin(this.angle),
                             this.centre.z + this.away * Math.sin(this.height));
    this.camera.lookAt(this.centre);
    // From the left and low, so that a shallow relief casts shades.
    this.lamp.position.copy(this.centre).add(new THREE.Vector3(
      0.4 * Math.cos(this.angle) + 0.9 * Math.sin(this.angle), 0.4 * Math.sin(this.angle) - 0.9 * Math.cos(this.angle), 0.7).multiplyScalar(this.away));
    this.lamp.target.position.copy(this.centre);
    this.lamp.target.updateMatrixWorld();
    this.flags.forEach(function (pin) { pin.scale.setScalar(self.size * (pin.userData.number === lit ? 0.024 : 0.009)); });
    this.renderer.render(this.scene, this.camera);
  };

  Turntable.prototype.turn = function (right, up) {
    this.angle += right;
    this.height = Math.min(Math.max(this.height + up, -1.5), 1.5);
    this.draw();
  };

  Turntable.prototype.nearer = function (factor) {
    this.away = Math.min(Math.max(this.away * factor, 0.05 * this.size), 8 * this.size);
    this.draw();
  };

  Turntable.prototype.listen = function () {
    var self = this, held = null;
    var keys = {ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, 0.15], ArrowDown: [0, -0.15]};
    this.canvas.addEventListener("keydown", function (event) {
      if (keys[event.key]) self.turn(keys[event.key][0], keys[event.key][1]);
      else if (event.key === "+" || event.key === "=") self.nearer(0.8);
      else if (event.key === "-") self.nearer(1.25);
      else return;
      event.preventDefault();
    });
    this.canvas.addEventListener("pointerdown", function (event) {
      held = [event.clientX, event.clientY];
      self.canvas.setPointerCapture(event.pointerId);
    });
    this.canvas.addEventListener("pointermove", function (event) {
      if (!held) return;
      self.turn(-(event.clientX - held[0]) / 180, (event.clientY - held[1]) / 180);
      held = [event.clientX, event.clientY];
    });
    this.canvas.addEventListener("pointerup", function () { held = null; });
    this.canvas.addEventListener("wheel", function (event) {
      if (document.activeElement !== self.canvas) return;   // the page goes on scrolling
      self.nearer(event.deltaY > 0 ? 1.1 : 0.9);
      event.preventDefault();
    }, {passive: false});
    window.addEventListener("resize", function () { self.draw(); });
    watchers.push(function () { self.draw(); });
  };

  function turntableIn(place, data) {
    try {
      return new Turntable(data, place);
    } catch (error) {
      place.appendChild(make("p", {"class": "note"}, "This browser cannot draw in three dimensions; the drawings on this page show the same."));
      return null;
    }
  }

  function fillSolids(place, data) {
    var table = turntableIn(place, data);
    if (!table) return;
    var bar = make("div", {"class": "keys", role: "group", "aria-label": "Turn the piece and the cell"});
    bar.appendChild(button("piece", "show the piece", function () { table.showPiece(); }));
    if (data.bodies.length) bar.appendChild(button("cell", "show the cell", function () { table.showCell(); }));
    bar.appendChild(button("↺", "turn to the left", function () { table.turn(-0.3, 0); }));
    bar.appendChild(button("↻", "turn to the right", function () { table.turn(0.3, 0); }));
    bar.appendChild(button("from above", "look down from above", function () { table.turn(0, 1.5 - table.height); }));
    bar.appendChild(button("nearer", "move nearer", function () { table.nearer(0.8); }));
    bar.appendChild(button("away", "move away", function () { table.nearer(1.25); }));
    place.appendChild(table.canvas);
    place.appendChild(bar);
    place.appendChild(make("p", {"class": "note"}, "Drag, or use the arrow keys, + and −. Colours as in the drawing above; pins stand at the findings." +
      (data.time_s === null ? "" : " The cell is shown at " + clock(data.time_s) + " of the job.")));
    table.listen();
    table.draw();
  }

  // Drawn when it comes near the screen: who only reads does not wait for it.
  function drawSolids() {
    var place = document.getElementById("solid");
    if (!place || typeof THREE === "undefined") return;
    place.hidden = false;
    var watch = new IntersectionObserver(function (entries) {
      if (!entries.some(function (entry) { return entry.isIntersecting; })) return;
      watch.disconnect();
      var data = block("solids");
      if (data) attempt(function () { fillSolids(place, data); });
    }, {rootMargin: "300px"});
    watch.observe(place);
  }

  // The page stays a page whatever a browser cannot do.
  function attempt(act) {
    try { act(); } catch (error) { if (window.console) window.console.error(String(error)); }
  }

  attempt(drawCharts);
  attempt(drawSolids);
  attempt(tieFindings);
}());
