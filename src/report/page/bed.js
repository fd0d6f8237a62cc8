// SPDX-License-Identifier: MIT
// One layer seen from above, as sliced and adapted, in true widths.
(function () {
  const prints = 1, eOnly = 3, rest = 4;
  const steps = 20;          // colours from half as wide to half as wide again
  const widthStep = 0.02;    // mm; widths are drawn in such steps
  const many = 6000;         // stretches; above, the picture is only moved while a hand is on it

  function mix(a, b, share) {
    const parse = (c) => [1, 3, 5].map((i) => parseInt(c.slice(i, i + 2), 16));
    const x = parse(a), y = parse(b);
    return 'rgb(' + x.map((v, i) => Math.round(v + (y[i] - v) * share)).join(',') + ')';
  }
  function palette() {
    const thin = Meltlag.colour('thin'), middle = Meltlag.colour('middle'), thick = Meltlag.colour('thick');
    const out = [];
    for (let k = 0; k <= steps; ++k) {
      const e = 2 * k / steps - 1;
      out.push(e < 0 ? mix(middle, thin, -e) : mix(middle, thick, e));
    }
    return out;
  }
  const step = (off) => Meltlag.clamp(Math.round((off / 0.5 + 1) / 2 * steps), 0, steps);

  class View {
    constructor() { this.x = 0; this.y = 0; this.scale = 1; }
    fit(box, width, height) {
      this.x = (box[0] + box[2]) / 2;
      this.y = (box[1] + box[3]) / 2;
      const margin = 24;
      this.scale = Math.min((width - margin) / Math.max(1, box[2] - box[0]), (height - margin) / Math.max(1, box[3] - box[1]));
    }
  }

  // One of the two pictures.
  class Picture {
    constructor(bed, side, late, title) {
      this.bed = bed;
      this.side = side;
      this.late = late;
      this.canvas = Meltlag.make('canvas', {tabindex: 0, role: 'img', 'aria-label':
          title + ', layer from above. Arrow keys move, + and - zoom, page up and down change the layer, Enter chooses the middle.'});
      this.figure = Meltlag.make('figure', {}, [Meltlag.make('figcaption', {}, [title]), this.canvas]);
      this.snapshot = document.createElement('canvas');
    }
    size() {
      const ratio = Math.min(2, window.devicePixelRatio || 1);
      const width = Math.max(1, Math.round(this.canvas.clientWidth * ratio));
      const height = Math.max(1, Math.round(this.canvas.clientHeight * ratio));
      if (this.canvas.width !== width || this.canvas.height !== height) {
        this.canvas.width = width;
        this.canvas.height = height;
      }
      this.ratio = ratio;
    }
    toScreen(x, y) {
      const v = this.bed.view, r = this.ratio;
      return [this.canvas.width / 2 + (x - v.x) * v.scale * r, this.canvas.height / 2 - (y - v.y) * v.scale * r];
    }
    // Groups strokes by colour and width: few state changes, whatever the number of beads.
    collect() {
      const {path, range} = this.bed, beads = new Map(), wanted = new Map(), blobs = [];
      const put = (map, key, i) => { const list = map.get(key); if (list) list.push(i); else map.set(key, [i]); };
      const seen = this.bed.seen(this);
      for (let i = Math.max(1, range[0]); i < range[1]; ++i) {
        if (path.kind[i] === eOnly || path.kind[i] === rest || !seen(i)) continue;
        const got = Meltlag.width(path, i, this.side.got[i]);
        const much = path.kind[i] !== prints || this.side.got[i] > 1.3 * path.wanted[i];
        if (much && got > 1.2 * path.length[i]) {
          if (this.side.got[i] > 1e-3) blobs.push(i);
          if (!(path.wanted[i] > 0)) continue;
          put(wanted, Math.round(Meltlag.width(path, i, path.wanted[i]) / widthStep), i);
        } else if (path.kind[i] === prints && path.wanted[i] > 0) {
          const want = Meltlag.width(path, i, path.wanted[i]);
          put(wanted, Math.round(want / widthStep), i);
          if (got > 0) put(beads, step(this.side.got[i] / path.wanted[i] - 1) * 4096 + Math.min(4095, Math.round(got / widthStep)), i);
        } else if (got > 0.005) {
          put(beads, steps * 4096 + Math.min(4095, Math.round(got / widthStep)), i);
        }
      }
      return {beads, wanted, blobs};
    }
    stroke(context, list, width, colour) {
      const {path} = this.bed, v = this.bed.view, r = this.ratio;
      const k = v.scale * r, cx = this.canvas.width / 2 - v.x * k, cy = this.canvas.height / 2 + v.y * k;
      context.strokeStyle = colour;
      context.lineWidth = Math.max(0.7, width);
      context.beginPath();
      for (const i of list) {
        context.moveTo(cx + path.x[i - 1] * k, cy - path.y[i - 1] * k);
        context.lineTo(cx + path.x[i] * k, cy - path.y[i] * k);
      }
      context.stroke();
    }
    draw() {
      this.size();
      const context = this.canvas.getContext('2d'), k = this.bed.view.scale * this.ratio;
      context.setTransform(1, 0, 0, 1, 0, 0);
      context.fillStyle = Meltlag.colour('raised');
      context.fillRect(0, 0, this.canvas.width, this.canvas.height);
      context.lineCap = context.lineJoin = 'round';
      const {beads, wanted, blobs} = this.collect(), ghost = Meltlag.colour('ghost'), ink = Meltlag.colour('ink');
      for (const [w, list] of wanted) this.stroke(context, list, w * widthStep * k, ghost);
      const sorted = [...beads].sort((a, b) => Math.abs((a[0] >> 12) - steps / 2) - Math.abs((b[0] >> 12) - steps / 2));
      if (k > 6) {
        for (const [key, list] of sorted) this.stroke(context, list, (key & 4095) * widthStep * k + 1.5 * this.ratio, ink);
      }
      for (const [key, list] of sorted) {
        this.stroke(context, list, (key & 4095) * widthStep * k, this.bed.colours[key >> 12]);
      }
      this.drawBlobs(context, k, blobs);
      this.drawGaps(context, k);
      this.drawKnobs(context, k);
      this.keep();
      this.drawOver(context);
    }
    // Wider than long: as a disc that covers as much of the bed as its plastic does.
    drawBlobs(context, k, blobs) {
      const {path} = this.bed;
      context.strokeStyle = Meltlag.colour('ink');
      context.lineWidth = 0.6 * this.ratio;
      for (const i of blobs) {
        const height = path.layers[path.layer[i]].height;
        const [x, y] = this.toScreen((path.x[i] + path.x[i - 1]) / 2, (path.y[i] + path.y[i - 1]) / 2);
        const off = path.wanted[i] > 0 ? this.side.got[i] / path.wanted[i] - 1 : 1;
        context.fillStyle = this.bed.colours[step(off)];
        context.beginPath();
        context.arc(x, y, Math.sqrt(this.side.got[i] / height / Math.PI) * k, 0, 2 * Math.PI);
        context.fill();
        if (k > 6) context.stroke();
      }
    }
    drawGaps(context, k) {
      const {path, range} = this.bed, list = [];
      for (let i = Math.max(1, range[0]); i < range[1]; ++i) if (this.late[i]) list.push(i);
      context.setLineDash([2 * this.ratio, 5 * this.ratio]);
      this.stroke(context, list, Math.max(2 * this.ratio, 0.15 * k), Meltlag.colour('thin'));
      context.setLineDash([]);
    }
    drawKnobs(context, k) {
      const {path, range} = this.bed, side = this.side;
      context.lineWidth = this.ratio;
      context.strokeStyle = Meltlag.colour('ink');
      context.fillStyle = Meltlag.colour('thick');
      for (let n = Meltlag.above(side.knobAt, range[0] - 1); n < side.knobAt.length && side.knobAt[n] < range[1]; ++n) {
        const i = side.knobAt[n], [x, y] = this.toScreen(path.x[i], path.y[i]);
        context.beginPath();
        context.arc(x, y, Math.max(1.2 * this.ratio, Math.cbrt(6 * side.knob[n] / Math.PI) / 2 * k), 0, 2 * Math.PI);
        context.fill();
        context.stroke();
      }
    }
    keep() {
      this.snapshot.width = this.canvas.width;
      this.snapshot.height = this.canvas.height;
      this.snapshot.getContext('2d').drawImage(this.canvas, 0, 0);
      this.kept = Object.assign({}, this.bed.view);
    }
    // The last picture, moved and scaled.
    move() {
      if (!this.kept) return this.draw();
      const context = this.canvas.getContext('2d'), v = this.bed.view, share = v.scale / this.kept.scale;
      const k = v.scale * this.ratio, w = this.canvas.width, h = this.canvas.height;
      context.fillStyle = Meltlag.colour('raised');
      context.fillRect(0, 0, w, h);
      context.drawImage(this.snapshot, w / 2 - share * w / 2 + (this.kept.x - v.x) * k,
                        h / 2 - share * h / 2 - (this.kept.y - v.y) * k, share * w, share * h);
      this.drawOver(context);
    }
    drawOver(context) {
      const r = this.ratio, ink = Meltlag.colour('ink');
      this.drawScale(context, r, ink);
      for (const [i, colour] of [[this.bed.chosen, 'mark'], [this.bed.pointed, 'accent']]) {
        if (i === undefined || i === null || i < this.bed.range[0] || i >= this.bed.range[1]) continue;
        const [x, y] = this.toScreen(this.bed.path.x[i], this.bed.path.y[i]);
        context.strokeStyle = Meltlag.colour(colour);
        context.lineWidth = 2.5 * r;
        context.beginPath();
        context.arc(x, y, 11 * r, 0, 2 * Math.PI);
        context.stroke();
      }
    }
    drawScale(context, r, ink) {
      const k = this.bed.view.scale * r;
      const mm = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100].find((m) => m * k >= 50 * r) || 200;
      const x = 12 * r, y = this.canvas.height - 14 * r;
      context.font = 12 * r + 'px system-ui, sans-serif';
      const label = mm + ' mm', wide = Math.max(mm * k, context.measureText(label).width);
      context.fillStyle = Meltlag.colour('raised');
      context.globalAlpha = 0.85;
      context.fillRect(x - 6 * r, y - 20 * r, wide + 12 * r, 28 * r);
      context.globalAlpha = 1;
      context.fillStyle = ink;
      context.fillRect(x, y, mm * k, 2 * r);
      context.fillText(label, x, y - 5 * r);
    }
  }

  class Bed {
    constructor(path, host, tools, readout) {
      this.path = path;
      this.readout = readout;
      this.view = new View();
      this.layer = 0;
      this.colours = palette();
      this.pictures = path.two
          ? [new Picture(this, path.before, path.lateBefore, 'As sliced'), new Picture(this, path.after, path.lateAfter, 'Adapted')]
          : [new Picture(this, path.after, path.lateAfter, 'This file')];
      this.build(host);
      this.buildTools(tools);
      for (const picture of this.pictures) this.listen(picture);
      this.setLayer(this.worstLayer(), true);
      this.showAll();
    }
    worstLayer() {
      let worst = 0;
      const share = (l) => l.wanted > 0 ? l.after / l.wanted : 0;
      this.path.layers.forEach((l, k) => { if (l.after > this.path.layers[worst].after) worst = k; });
      return share(this.path.layers[worst]) > 0 ? worst : 0;
    }
    build(host) {
      const path = this.path, count = path.layers.length;
      this.strip = Meltlag.make('canvas', {role: 'img', 'aria-label': 'Misplaced share of each layer'});
      this.slider = Meltlag.make('input', {type: 'range', min: 1, max: count, value: 1, 'aria-label': 'Layer',
                                           oninput: () => this.setLayer(Number(this.slider.value) - 1)});
      this.stripWords = Meltlag.make('p', {class: 'lead'});
      this.caption = Meltlag.make('p', {id: 'layer-words'});
      host.append(Meltlag.make('div', {class: 'strip'}, [this.stripWords, this.strip, this.slider, this.caption]));
      host.append(Meltlag.make('div', {class: 'beds' + (path.two ? '' : ' alone')}, this.pictures.map((p) => p.figure)));
      host.append(Meltlag.make('p', {class: 'scale'}, [
        'half as wide', Meltlag.make('i', {class: 'ramp'}), 'half as wide again',
        Meltlag.make('span', {}, [Meltlag.make('i', {class: 'ball'}), ' knob, as a ball']),
        Meltlag.make('span', {}, [Meltlag.make('i', {class: 'hollow'}), ' gap at a start'])]));
      this.strip.addEventListener('click', (event) => {
        this.setLayer(Meltlag.clamp(Math.floor(event.offsetX / this.strip.clientWidth * count), 0, count - 1));
      });
    }
    buildTools(tools) {
      const button = (text, label, action) =>
          Meltlag.make('button', {type: 'button', title: label, 'aria-label': label, onclick: action}, [text]);
      tools.append(Meltlag.make('div', {class: 'group', role: 'group', 'aria-label': 'Layer'}, [
        button('Layer below', 'Layer below', () => this.setLayer(this.layer - 1)),
        button('Layer above', 'Layer above', () => this.setLayer(this.layer + 1))]));
      tools.append(Meltlag.make('div', {class: 'group', role: 'group', 'aria-label': 'Zoom the bed'}, [
        button('−', 'Zoom out', () => this.zoom(1 / 1.6)), button('+', 'Zoom in', () => this.zoom(1.6)),
        button('◀', 'Left', () => this.pan(-0.3, 0)), button('▶', 'Right', () => this.pan(0.3, 0)),
        button('▲', 'To the back', () => this.pan(0, 0.3)), button('▼', 'To the front', () => this.pan(0, -0.3)),
        button('All', 'The whole layer', () => this.showAll())]));
    }
    box() {
      const path = this.path, box = [Infinity, Infinity, -Infinity, -Infinity];
      for (let i = Math.max(1, this.range[0]); i < this.range[1]; ++i) {
        if (path.kind[i] !== prints) continue;
        for (const j of [i - 1, i]) {
          box[0] = Math.min(box[0], path.x[j]); box[1] = Math.min(box[1], path.y[j]);
          box[2] = Math.max(box[2], path.x[j]); box[3] = Math.max(box[3], path.y[j]);
        }
      }
      return box[0] <= box[2] ? box : [0, 0, 1, 1];
    }
    showAll() {
      const canvas = this.pictures[0].canvas;
      this.view.fit(this.box(), Math.max(50, canvas.clientWidth), Math.max(50, canvas.clientHeight));
      this.redraw();
    }
    zoom(factor) {
      this.view.scale = Meltlag.clamp(this.view.scale * factor, 0.05, 2000);
      this.redraw(true);
    }
    pan(x, y) {
      const canvas = this.pictures[0].canvas;
      this.view.x += x * canvas.clientWidth / this.view.scale;
      this.view.y += y * canvas.clientHeight / this.view.scale;
      this.redraw(true);
    }
    setLayer(layer, quiet) {
      this.layer = Meltlag.clamp(layer, 0, Math.max(0, this.path.layers.length - 1));
      this.range = Meltlag.layerRange(this.path, this.layer);
      this.slider.value = this.layer + 1;
      const l = this.path.layers[this.layer];
      const share = (mm3) => l.wanted > 0 ? Meltlag.percent(mm3 / l.wanted) : 'nothing wanted';
      this.caption.textContent = 'Layer ' + (this.layer + 1) + ' of ' + this.path.layers.length + ', Z ' + l.z.toFixed(2) +
          ' mm, from line ' + l.line + ': misplaced ' + (this.path.two ? share(l.before) + ' → ' : '') + share(l.after) +
          '.';
      this.slider.setAttribute('aria-valuetext', this.caption.textContent);
      if (!quiet) this.redraw();
    }
    // Whether a stretch may be in sight.
    seen(picture) {
      const path = this.path, v = this.view, far = 3;
      const w = picture.canvas.width / 2 / v.scale / picture.ratio + far, h = picture.canvas.height / 2 / v.scale / picture.ratio + far;
      return (i) => !(path.x[i] < v.x - w && path.x[i - 1] < v.x - w || path.x[i] > v.x + w && path.x[i - 1] > v.x + w ||
                      path.y[i] < v.y - h && path.y[i - 1] < v.y - h || path.y[i] > v.y + h && path.y[i - 1] > v.y + h);
    }
    // `moving`: more of the same will follow at once.
    redraw(moving) {
      if (this.pending) { this.moving = this.moving && moving; return; }
      this.pending = true;
      this.moving = moving;
      requestAnimationFrame(() => {
        this.pending = false;
        const quick = this.moving && this.range[1] - this.range[0] > many;
        for (const picture of this.pictures) quick ? picture.move() : picture.draw();
        this.drawStrip();
        clearTimeout(this.later);
        if (quick) this.later = setTimeout(() => this.redraw(), 150);
      });
    }
    drawStrip() {
      const r = Math.min(2, window.devicePixelRatio || 1), layers = this.path.layers, n = layers.length;
      const key = [this.strip.clientWidth, this.layer, this.colours[0]].join();
      if (key === this.stripKey) return;
      this.stripKey = key;
      const width = this.strip.width = Math.max(1, Math.round(this.strip.clientWidth * r));
      const height = this.strip.height = Math.round(60 * r), context = this.strip.getContext('2d');
      const share = (l, side) => l.wanted > 0 ? l[side] / l.wanted : 0;
      const high = Math.max(1e-6, ...[0.98].map((q) => {
        const all = layers.map((l) => Math.max(share(l, 'before'), share(l, 'after'))).sort((a, b) => a - b);
        return 1.05 * all[Math.min(n - 1, Math.floor(q * n))];
      }));
      const bar = Math.min(28 * r, Math.max(1, Math.floor(width / n) - (width / n > 4 ? r : 0)));
      const left = (k) => k * width / n + Math.max(0, width / n - bar) / 2;
      const sides = this.path.two ? ['before', 'after'] : ['after'];
      for (const side of sides) {
        context.fillStyle = Meltlag.colour(side);
        context.globalAlpha = side === 'before' && this.path.two ? 0.45 : 1;
        for (let k = 0; k < n; ++k) {
          const h = Math.min(1, share(layers[k], side) / high) * (height - 6 * r);
          context.fillRect(left(k), height - h, bar, h);
        }
      }
      context.globalAlpha = 1;
      context.fillStyle = Meltlag.colour('mark');
      context.fillRect(left(this.layer), 0, Math.max(bar, 3 * r), 3 * r);
      this.stripWords.textContent = 'Misplaced share of each layer; the full height is ' + Meltlag.percent(high) + '.';
    }
    nearest(picture, x, y) {
      const path = this.path, v = this.view, canvas = picture.canvas;
      const mx = v.x + (x - canvas.clientWidth / 2) / v.scale, my = v.y - (y - canvas.clientHeight / 2) / v.scale;
      let best = -1, bestOff = Infinity;
      for (let i = Math.max(1, this.range[0]); i < this.range[1]; ++i) {
        if (path.kind[i] === eOnly || path.kind[i] === rest) continue;
        const ax = path.x[i - 1], ay = path.y[i - 1], dx = path.x[i] - ax, dy = path.y[i] - ay, d2 = dx * dx + dy * dy;
        const s = d2 > 0 ? Meltlag.clamp(((mx - ax) * dx + (my - ay) * dy) / d2, 0, 1) : 0;
        // Beads before travels.
        const off = Math.hypot(ax + s * dx - mx, ay + s * dy - my) + (path.kind[i] === prints ? 0 : 0.4);
        if (off < bestOff) { bestOff = off; best = i; }
      }
      return best;
    }
    listen(picture) {
      const canvas = picture.canvas, hands = new Map();
      let moved = 0;
      canvas.addEventListener('pointerdown', (event) => {
        hands.set(event.pointerId, [event.offsetX, event.offsetY]);
        moved = 0;
        canvas.setPointerCapture(event.pointerId);
      });
      canvas.addEventListener('pointermove', (event) => {
        const last = hands.get(event.pointerId);
        if (!last) return;
        const now = [event.offsetX, event.offsetY];
        const other = [...hands].find(([id]) => id !== event.pointerId);
        moved += Math.abs(now[0] - last[0]) + Math.abs(now[1] - last[1]);
        const share = other ? 0.5 : 1;
        this.view.x -= share * (now[0] - last[0]) / this.view.scale;
        this.view.y += share * (now[1] - last[1]) / this.view.scale;
        if (other) {
          const apart = (p) => Math.hypot(p[0] - other[1][0], p[1] - other[1][1]);
          this.view.scale = Meltlag.clamp(this.view.scale * apart(now) / Math.max(1, apart(last)), 0.05, 2000);
        }
        hands.set(event.pointerId, now);
        this.redraw(true);
      });
      const up = (event) => {
        if (!hands.delete(event.pointerId)) return;
        if (event.type === 'pointerup' && moved < 5 && hands.size === 0) {
          const i = this.nearest(picture, event.offsetX, event.offsetY);
          if (i >= 0) Meltlag.choose(i, 'bed');
        } else {
          this.redraw();
        }
      };
      canvas.addEventListener('pointerup', up);
      canvas.addEventListener('pointercancel', up);
      canvas.addEventListener('wheel', (event) => this.wheel(picture, event), {passive: false});
      canvas.addEventListener('dblclick', () => this.showAll());
      canvas.addEventListener('keydown', (event) => this.key(picture, event));
    }
    // Zooms around the pointer.
    wheel(picture, event) {
      event.preventDefault();
      const canvas = picture.canvas, v = this.view, old = v.scale;
      v.scale = Meltlag.clamp(old * Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0015)), 0.05, 2000);
      const dx = event.offsetX - canvas.clientWidth / 2, dy = event.offsetY - canvas.clientHeight / 2;
      v.x += dx / old - dx / v.scale;
      v.y -= dy / old - dy / v.scale;
      this.redraw(true);
    }
    key(picture, event) {
      const canvas = picture.canvas;
      const actions = {
        ArrowLeft: () => this.pan(-0.15, 0), ArrowRight: () => this.pan(0.15, 0), ArrowUp: () => this.pan(0, 0.15),
        ArrowDown: () => this.pan(0, -0.15), '+': () => this.zoom(1.4), '=': () => this.zoom(1.4), '-': () => this.zoom(1 / 1.4),
        Home: () => this.showAll(), PageUp: () => this.setLayer(this.layer + 1), PageDown: () => this.setLayer(this.layer - 1),
        Enter: () => {
          const i = this.nearest(picture, canvas.clientWidth / 2, canvas.clientHeight / 2);
          if (i >= 0) Meltlag.choose(i, 'bed');
        }};
      if (!actions[event.key] || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      actions[event.key]();
    }
    choose(i, from) {
      this.chosen = i;
      if (this.path.layer[i] !== this.layer) this.setLayer(this.path.layer[i], true);
      if (from === 'worst') {
        this.view.x = this.path.x[i];
        this.view.y = this.path.y[i];
        this.view.scale = Math.max(this.view.scale, 22);
      } else {
        this.bringIntoSight(i);
      }
      this.readout.textContent = Meltlag.describe(this.path, i);
      this.redraw();
    }
    bringIntoSight(i) {
      const v = this.view, canvas = this.pictures[0].canvas;
      const off = [Math.abs(this.path.x[i] - v.x) * v.scale, Math.abs(this.path.y[i] - v.y) * v.scale];
      if (off[0] < canvas.clientWidth / 2 - 12 && off[1] < canvas.clientHeight / 2 - 12) return;
      v.x = this.path.x[i];
      v.y = this.path.y[i];
    }
    point(i) {
      this.pointed = i;
      if (i !== null && this.path.layer[i] !== this.layer) return;
      cancelAnimationFrame(this.pointing);
      this.pointing = requestAnimationFrame(() => { for (const picture of this.pictures) picture.move(); });
    }
    recolour() {
      this.colours = palette();
      this.redraw();
    }
  }
  Meltlag.Bed = Bed;
})();
