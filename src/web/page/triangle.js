// A triangle of one picture drawn as another triangle.

/**
 * @param {CanvasRenderingContext2D} c
 * @param {ImageBitmap} bitmap
 * @param {{from: [number, number], to: [number, number]}[]} corners
 */
export function drawTriangle(c, bitmap, corners) {
  const [[x0, y0], [x1, y1], [x2, y2]] = corners.map((n) => n.from);
  const [[u0, v0], [u1, v1], [u2, v2]] = corners.map((n) => n.to);
  const area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0);
  if (Math.abs(area) < 1e-6) return;
  /** @param {number} p @param {number} q @param {number} r */
  const along = (p, q, r) => [((q - p) * (y2 - y0) - (r - p) * (y1 - y0)) / area, ((r - p) * (x1 - x0) - (q - p) * (x2 - x0)) / area];
  const [[ux, uy], [vx, vy]] = [along(u0, u1, u2), along(v0, v1, v2)];
  const middle = [(u0 + u1 + u2) / 3, (v0 + v1 + v2) / 3];
  c.save();
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.beginPath();
  // A pixel larger, so that no seam is left between two.
  for (const { to } of corners) {
    const [dx, dy] = [to[0] - middle[0], to[1] - middle[1]];
    const grown = 1 + 1 / Math.max(Math.hypot(dx, dy), 1);
    c.lineTo(middle[0] + dx * grown, middle[1] + dy * grown);
  }
  c.clip();
  c.setTransform(ux, vx, uy, vy, u0 - ux * x0 - uy * y0, v0 - vx * x0 - vy * y0);
  c.drawImage(bitmap, 0, 0);
  c.restore();
}
