// SPDX-License-Identifier: MIT
// One layer of one file seen from above, in true widths.
(function () {
  const prints = 1, eOnly = 3, rest = 4;
  const steps = 20;          // colours from half as wide to half as wide again
  const widthStep = 0.02;    // mm; widths are drawn in such steps

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
      const {path, range} = this.bed, beads = new Map(), wanted = new Map(), drops = [];
      const put = (map, key, i) => { const list = map.get(key); if (list) list.push(i); else map.set(key, [i]); };
      const seen = this.bed.seen(this);
      for (let i = Math.max(1, range[0]); i < range[1]; ++i) {
        if (path.kind[i] === eOnly || path.kind[i] === rest || !seen(i)) continue;
        const got = Meltlag.width(path, i, this.side.got[i]);
        const much = path.kind[i] !== prints || this.side.got[i] > 1.3 * path.wanted[i];
        if (much && got > 1.2 * path.length[i]) {
          if (this.side.got[i] > 1e-3) drops.push(i);
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
      return {beads, wanted, drops};
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
      const {beads, wanted, drops} = this.collect(), ghost = Meltlag.colour('ghost'), ink = Meltlag.colour('ink');
      for (const [w, list] of wanted) this.stroke(context, list, w * widthStep * k, ghost);
      const sorted = [...beads].sort((a, b) => Math.abs((a[0] >> 12) - steps / 2) - Math.abs((b[0] >> 12) - steps / 2));
      if (k > 6) {
        for (const [key, list] of sorted) this.stroke(context, list, (key & 4095) * widthStep * k + 1.5 * this.ratio, ink);
      }
      for (const [key, list] of sorted) {
        this.stroke(context, list, (key & 4095) * widthStep * k, this.bed.colours[key >> 12]);
      }
      this.drawDrops(context, k, drops);
      this.drawGaps(context, k);
      this.drawBlobs(context, k);
      this.keep();
      this.drawOver(context);
    }
    // Wider than long: as a disc that covers as much of the bed as its plastic does.
    drawDrops(context, k, drops) {
      const {path} = this.bed;
      context.strokeStyle = Meltlag.colour('ink');
      context.lineWidth = 0.6 * this.ratio;
      for (const i of drops) {
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
    drawBlobs(context, k) {
      const {path, range} = this.bed, side = this.side;
      context.lineWidth = this.ratio;
      context.strokeStyle = Meltlag.colour('ink');
      context.fillStyle = Meltlag.colour('thick');
      for (let n = Meltlag.above(side.blobAt, range[0] - 1); n < side.blobAt.length && side.blobAt[n] < range[1]; ++n) {
        const i = side.blobAt[n], [x, y] = this.toScreen(path.x[i], path.y[i]);
        context.beginPath();
        context.arc(x, y, Math.max(1.2 * this.ratio, Math.cbrt(6 * side.blob[n] / Math.PI) / 2 * k), 0, 2 * Math.PI);
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
  Meltlag.Picture = Picture;
  Meltlag.bedColours = palette;
})();
