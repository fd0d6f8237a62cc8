// SPDX-License-Identifier: MIT
// The path of the print, as write_path_data() wrote it: one entry a stretch.
(function () {
  const prints = 1, eOnly = 3, rest = 4;

  function readSide(path, name) {
    const beadGot = Meltlag.column(name + '-got-bead'), elseGot = Meltlag.column(name + '-got-else');
    const beadScrew = Meltlag.column(name + '-screw-bead'), elseScrew = Meltlag.column(name + '-screw-else');
    const n = path.count;
    const side = {got: new Float32Array(n), screw: new Float32Array(n),
                  runOn: new Float32Array(Meltlag.column(name + '-run-on')),
                  blobAt: Meltlag.column(name + '-blob-at'), blob: Meltlag.column(name + '-blob')};
    let bead = 0, other = 0;
    for (let i = 0; i < n; ++i) {
      if (path.kind[i] === prints && path.wanted[i] > 0) {
        side.got[i] = beadGot[bead] * path.wanted[i];
        side.screw[i] = beadScrew[bead++] * path.wanted[i];
      } else {
        side.got[i] = elseGot[other];
        side.screw[i] = elseScrew[other++];
      }
    }
    return side;
  }

  // t[i] is when the stretch i begins; one more for the end.
  function starts(ends) {
    const t = new Float64Array(ends.length + 1);
    for (let i = 0; i < ends.length; ++i) t[i + 1] = Math.max(t[i], ends[i]);
    return t;
  }

  // Wanted volumes are kept as sections; a bead that wants nothing has none.
  function readWanted(path) {
    const section = Meltlag.column('p-section');
    path.length = new Float32Array(path.count);
    path.wanted = new Float32Array(path.count);
    let bead = 0;
    for (let i = 0; i < path.count; ++i) {
      const j = Math.max(0, i - 1);
      const moves = path.kind[i] !== eOnly && path.kind[i] !== rest;
      path.length[i] = moves ? Math.hypot(path.x[i] - path.x[j], path.y[i] - path.y[j], path.z[i] - path.z[j]) : 0;
      if (path.kind[i] === prints) path.wanted[i] = section[bead++] * path.length[i];
    }
  }

  Meltlag.readPath = function () {
    const element = document.getElementById('p-rest');
    if (!element) return null;
    const path = JSON.parse(element.textContent);
    const kinds = Meltlag.column('p-kind');
    path.count = kinds.length;
    path.kind = new Uint8Array(path.count);
    path.lateBefore = new Uint8Array(path.count);
    path.lateAfter = new Uint8Array(path.count);
    for (let i = 0; i < path.count; ++i) {
      path.kind[i] = kinds[i] & 7;
      path.lateBefore[i] = kinds[i] & 8;
      path.lateAfter[i] = kinds[i] & 16;
    }
    path.line = new Int32Array(Meltlag.column('p-line'));
    path.layer = new Int32Array(Meltlag.column('p-layer'));
    path.x = Meltlag.column('p-x');
    path.y = Meltlag.column('p-y');
    path.z = Meltlag.column('p-z');
    readWanted(path);
    const ends = Meltlag.column('p-time'), off = Meltlag.column('p-time-off');
    path.tBefore = starts(ends);
    for (let i = 0; i < off.length; ++i) ends[i] += off[i];
    path.tAfter = path.two ? starts(ends) : path.tBefore;
    path.before = readSide(path, 'before');
    path.after = path.two ? readSide(path, 'after') : path.before;
    path.layers = path.layers.map((l) => ({z: l[0], height: l[1], line: l[2], wanted: l[3], before: l[4], after: l[5]}));
    return path;
  };

  // The stretches of a layer: from, to.
  Meltlag.layerRange = (path, layer) =>
      [layer === 0 ? 0 : Meltlag.above(path.layer, layer - 1), Meltlag.above(path.layer, layer)];

  // The first stretch of a line, or of the nearest one after it.
  Meltlag.atLine = function (path, line) {
    return Meltlag.clamp(Meltlag.above(path.line, line - 1), 0, path.count - 1);
  };

  Meltlag.kindName = ['travel', 'bead', 'wipe', 'screw alone', 'rest'];

  // Width of what lies there, mm, of a bead with half-round flanks.
  Meltlag.width = function (path, i, mm3) {
    const height = path.layers.length ? path.layers[path.layer[i]].height : 0;
    const section = path.length[i] > 0 ? mm3 / path.length[i] : 0;
    return height > 0 && section > 0 ? section / height + (1 - Math.PI / 4) * height : 0;
  };

  // One stretch in words.
  Meltlag.describe = function (path, i) {
    const t = path.tAfter, out = [];
    out.push('Line ' + path.line[i] + ', ' + Meltlag.kindName[path.kind[i]]);
    out.push(Meltlag.clock(t[i]) + (path.two ? ' (as sliced ' + Meltlag.clock(path.tBefore[i]) + ')' : ''));
    if (path.layers.length) {
      out.push('layer ' + (path.layer[i] + 1) + ' of ' + path.layers.length + ', Z ' + path.z[i].toFixed(2));
    }
    out.push('X ' + path.x[i].toFixed(1) + ' Y ' + path.y[i].toFixed(1));
    const both = (show) => path.two ? show(path.before) + ' → ' + show(path.after) : show(path.after);
    if (path.kind[i] === prints && path.wanted[i] > 0) {
      const wanted = Meltlag.width(path, i, path.wanted[i]);
      out.push('bead wanted ' + wanted.toFixed(2) + ' mm wide, got ' +
               both((side) => Meltlag.width(path, i, side.got[i]).toFixed(2)) + ' mm');
    } else if (path.kind[i] !== eOnly && path.kind[i] !== rest) {
      out.push('nothing wanted, got ' + both((side) => side.got[i].toFixed(3)) + ' mm³');
    }
    out.push('run-on ' + both((side) => side.runOn[i].toFixed(2)) + ' mm³');
    return out.join(' · ');
  };
})();
