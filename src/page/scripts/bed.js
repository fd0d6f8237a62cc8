// SPDX-License-Identifier: MIT
// The layer shown, its place and its pictures: as sliced and adapted beside each other.
(function () {
  const prints = 1, eOnly = 3, rest = 4;
  const many = 6000;  // stretches; above, the picture is only moved while a hand is on it

  class View {
    constructor() { this.x = 0; this.y = 0; this.scale = 1; }
    fit(box, width, height) {
      this.x = (box[0] + box[2]) / 2;
      this.y = (box[1] + box[3]) / 2;
      const margin = 24;
      this.scale = Math.min((width - margin) / Math.max(1, box[2] - box[0]), (height - margin) / Math.max(1, box[3] - box[1]));
    }
  }

  class Bed {
    constructor(path, host, tools, readout) {
      this.path = path;
      this.readout = readout;
      this.view = new View();
      this.layer = 0;
      this.colours = Meltlag.bedColours();
      this.pictures = path.two
          ? [new Meltlag.Picture(this, path.before, path.lateBefore, 'As sliced'), new Meltlag.Picture(this, path.after, path.lateAfter, 'Adapted')]
          : [new Meltlag.Picture(this, path.after, path.lateAfter, 'This file')];
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
        Meltlag.make('span', {}, [Meltlag.make('i', {class: 'ball'}), ' blob, as a ball']),
        Meltlag.make('span', {}, [Meltlag.make('i', {class: 'hollow'}), ' gap at a start']),
        Meltlag.make('span', {}, [Meltlag.make('i', {class: 'string'}), ' travel on which a string is left; clean travels are not drawn'])]));
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
    // At once, for printing: no frame comes before the page is taken.
    drawNow() {
      this.colours = Meltlag.bedColours();
      for (const picture of this.pictures) picture.draw();
      this.drawStrip();
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
      this.colours = Meltlag.bedColours();
      this.redraw();
    }
  }
  Meltlag.Bed = Bed;
})();
