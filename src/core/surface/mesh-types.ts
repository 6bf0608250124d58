/**
 * Indexed triangles.
 * Shape   verticesLpsMm: x0, y0, z0, x1, ...; triangles: three vertex numbers each
 * Frame   LPS mm; seen from outside (the dark side of an isosurface) the corners run counter-clockwise
 */
export interface TriangleMesh {
  readonly verticesLpsMm: Float32Array<ArrayBuffer>;
  readonly triangles: Uint32Array<ArrayBuffer>;
}
