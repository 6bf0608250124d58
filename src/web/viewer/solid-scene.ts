import '@kitware/vtk.js/Rendering/Profiles/Geometry.js';
import '@kitware/vtk.js/Rendering/Profiles/Volume.js';
import vtkDataArray from '@kitware/vtk.js/Common/Core/DataArray.js';
import vtkImageData from '@kitware/vtk.js/Common/DataModel/ImageData.js';
import vtkPiecewiseFunction from '@kitware/vtk.js/Common/DataModel/PiecewiseFunction.js';
import vtkPolyData from '@kitware/vtk.js/Common/DataModel/PolyData.js';
import vtkInteractorStyleTrackballCamera from '@kitware/vtk.js/Interaction/Style/InteractorStyleTrackballCamera.js';
import vtkActor from '@kitware/vtk.js/Rendering/Core/Actor.js';
import vtkColorTransferFunction from '@kitware/vtk.js/Rendering/Core/ColorTransferFunction.js';
import vtkMapper from '@kitware/vtk.js/Rendering/Core/Mapper.js';
import vtkRenderer from '@kitware/vtk.js/Rendering/Core/Renderer.js';
import vtkRenderWindow from '@kitware/vtk.js/Rendering/Core/RenderWindow.js';
import vtkRenderWindowInteractor from '@kitware/vtk.js/Rendering/Core/RenderWindowInteractor.js';
import vtkVolume from '@kitware/vtk.js/Rendering/Core/Volume.js';
import vtkVolumeMapper from '@kitware/vtk.js/Rendering/Core/VolumeMapper.js';
import vtkOpenGLRenderWindow from '@kitware/vtk.js/Rendering/OpenGL/RenderWindow.js';
import type { LineMesh } from '../../core/deployment/place-frame.ts';
import { along, completeBasis, scale, type Vec3 } from '../../core/math/vec3.ts';
import type { Xyz } from '../../core/root/root-types.ts';
import type { CtVolume } from '../../core/volume/volume-types.ts';
import type { StlTriangles } from '../../formats/stl/parse-stl.ts';

export type PartName = 'lumen' | 'calcium' | 'frame' | 'plane' | 'volume';
/** Grey, light and line style tell the parts apart; no meaning rests on a hue. */
const LOOKS: Readonly<Record<Exclude<PartName, 'volume'>, { readonly grey: number; readonly opacity: number; readonly lineWidth: number }>> = {
  lumen: { grey: 0.72, opacity: 0.38, lineWidth: 1 },
  calcium: { grey: 1, opacity: 1, lineWidth: 1 },
  frame: { grey: 1, opacity: 1, lineWidth: 2 },
  plane: { grey: 1, opacity: 1, lineWidth: 3 },
};
const BACKGROUND: readonly [number, number, number] = [0.05, 0.06, 0.07];

export interface SolidScene {
  putSurface(part: 'lumen' | 'calcium', surface: StlTriangles): void;
  putLines(part: 'frame' | 'plane', lines: LineMesh | null): void;
  putVolume(volume: CtVolume, bloodHu: number): void;
  show(part: PartName, isShown: boolean): void;
  /** Looks at a point from a direction (toward the viewer), `up` upward. */
  lookFrom(towardViewer: Vec3, up: Vec3): void;
  turn(rightDeg: number, upDeg: number): void;
  zoom(factor: number): void;
  resize(): void;
  close(): void;
}

/**
 * A scene in space drawn by vtk.js on demand: nothing is drawn while nobody moves anything.
 * Fails     null when the browser offers no WebGL 2
 */
export function openSolidScene(place: HTMLElement, centreLps: Xyz, reachMm: number): SolidScene | null {
  if (!document.createElement('canvas').getContext('webgl2')) return null;
  const renderWindow = vtkRenderWindow.newInstance();
  const renderer = vtkRenderer.newInstance({ background: [...BACKGROUND] });
  renderWindow.addRenderer(renderer);
  const openGl = vtkOpenGLRenderWindow.newInstance();
  openGl.setContainer(place);
  renderWindow.addView(openGl);
  const interactor = vtkRenderWindowInteractor.newInstance();
  interactor.setInteractorStyle(vtkInteractorStyleTrackballCamera.newInstance());
  interactor.setView(openGl);
  interactor.initialize();
  interactor.bindEvents(place);
  const parts = new Map<PartName, ReturnType<typeof vtkActor.newInstance> | ReturnType<typeof vtkVolume.newInstance>>();
  const camera = renderer.getActiveCamera();
  const draw = (): void => {
    renderer.resetCameraClippingRange();
    renderWindow.render();
  };
  const putData = (part: Exclude<PartName, 'volume'>, data: ReturnType<typeof vtkPolyData.newInstance> | null): void => {
    const old = parts.get(part);
    const wasShown = old?.getVisibility() ?? true;
    if (old) renderer.removeActor(old as ReturnType<typeof vtkActor.newInstance>);
    parts.delete(part);
    if (data) {
      const mapper = vtkMapper.newInstance({ scalarVisibility: false });
      mapper.setInputData(data);
      const actor = vtkActor.newInstance();
      actor.setMapper(mapper);
      const { grey, opacity, lineWidth } = LOOKS[part];
      const property = actor.getProperty();
      property.setColor(grey, grey, grey);
      property.setOpacity(opacity);
      property.setLineWidth(lineWidth);
      property.setAmbient(part === 'frame' || part === 'plane' ? 1 : 0.15);
      property.setDiffuse(part === 'frame' || part === 'plane' ? 0 : 0.85);
      property.setSpecular(part === 'calcium' ? 0.4 : 0.1);
      actor.setVisibility(wasShown);
      renderer.addActor(actor);
      parts.set(part, actor);
    }
    draw();
  };
  return {
    putSurface: (part, surface) => putData(part, makeSurface(surface)),
    putLines: (part, lines) => putData(part, lines && makeLines(lines)),
    putVolume: (volume, bloodHu) => {
      const actor = makeVolume(volume, bloodHu);
      renderer.addVolume(actor);
      parts.set('volume', actor);
      draw();
    },
    show: (part, isShown) => {
      const held = parts.get(part);
      if (!held || held.getVisibility() === isShown) return;
      held.setVisibility(isShown);
      draw();
    },
    lookFrom: (towardViewer, up) => {
      camera.setFocalPoint(...centreLps);
      camera.setPosition(...along(centreLps, towardViewer, 4 * reachMm));
      camera.setViewUp(...(up as [number, number, number]));
      camera.setViewAngle(30);
      draw();
    },
    turn: (rightDeg, upDeg) => {
      camera.azimuth(rightDeg);
      camera.elevation(upDeg);
      camera.orthogonalizeViewUp();
      draw();
    },
    zoom: (factor) => {
      camera.dolly(factor);
      draw();
    },
    resize: () => {
      const { width, height } = place.getBoundingClientRect();
      const dots = Math.min(2, globalThis.devicePixelRatio || 1);
      openGl.setSize(Math.max(1, Math.round(width * dots)), Math.max(1, Math.round(height * dots)));
      draw();
    },
    close: () => {
      interactor.unbindEvents();
      interactor.delete();
      openGl.setContainer(null as unknown as HTMLElement);
      openGl.delete();
      renderWindow.delete();
    },
  };
}

function makeSurface(surface: StlTriangles): ReturnType<typeof vtkPolyData.newInstance> {
  const { cornersMm, normals } = surface;
  const triangles = cornersMm.length / 9;
  const cells = new Uint32Array(4 * triangles);
  const perCorner = new Float32Array(9 * triangles);
  for (let t = 0; t < triangles; t++) {
    cells.set([3, 3 * t, 3 * t + 1, 3 * t + 2], 4 * t);
    for (let c = 0; c < 3; c++) perCorner.set(normals.subarray(3 * t, 3 * t + 3), 9 * t + 3 * c);
  }
  const data = vtkPolyData.newInstance();
  data.getPoints().setData(cornersMm, 3);
  data.getPolys().setData(cells);
  data.getPointData().setNormals(vtkDataArray.newInstance({ name: 'Normals', numberOfComponents: 3, values: perCorner }));
  return data;
}

function makeLines({ pointsLpsMm, pairs }: LineMesh): ReturnType<typeof vtkPolyData.newInstance> {
  const cells = new Uint32Array((3 * pairs.length) / 2);
  for (let i = 0; 2 * i < pairs.length; i++) cells.set([2, pairs[2 * i]!, pairs[2 * i + 1]!], 3 * i);
  const data = vtkPolyData.newInstance();
  data.getPoints().setData(pointsLpsMm, 3);
  data.getLines().setData(cells);
  return data;
}

function makeVolume(volume: CtVolume, bloodHu: number): ReturnType<typeof vtkVolume.newInstance> {
  const r = volume.lpsFromVoxel.rows;
  const image = vtkImageData.newInstance();
  // An extent, not only dimensions: without it the picture stays black.
  image.setDimensions([...volume.dims]);
  image.setSpacing([...volume.spacingMm]);
  image.setOrigin([r[3]!, r[7]!, r[11]!]);
  const [sx, sy, sz] = volume.spacingMm;
  image.setDirection(r[0]! / sx, r[4]! / sx, r[8]! / sx, r[1]! / sy, r[5]! / sy, r[9]! / sy, r[2]! / sz, r[6]! / sz, r[10]! / sz);
  image.getPointData().setScalars(vtkDataArray.newInstance({ name: 'HU', numberOfComponents: 1, values: volume.samplesHu }));
  const mapper = vtkVolumeMapper.newInstance();
  mapper.setInputData(image);
  mapper.setSampleDistance(1.2);
  mapper.setMaximumSamplesPerRay(400);
  const actor = vtkVolume.newInstance();
  actor.setMapper(mapper);
  const grey = vtkColorTransferFunction.newInstance();
  const opacity = vtkPiecewiseFunction.newInstance();
  const steps: readonly (readonly [number, number, number])[] = [[0.35 * bloodHu, 0.2, 0], [0.75 * bloodHu, 0.45, 0.05], [bloodHu, 0.6, 0.12], [2 * bloodHu, 1, 0.8], [3000, 1, 0.9]];
  for (const [hu, level, share] of steps) {
    grey.addRGBPoint(hu, level, level, level);
    opacity.addPoint(hu, share);
  }
  const property = actor.getProperty();
  property.setRGBTransferFunction(0, grey);
  property.setScalarOpacity(0, opacity);
  property.setInterpolationTypeToLinear();
  property.setShade(true);
  property.setAmbient(0.3);
  property.setDiffuse(0.7);
  return actor;
}

/** A closed line through points. */
export function closeLine(points: readonly Xyz[]): LineMesh | null {
  if (points.length < 2) return null;
  const pairs = new Uint32Array(2 * points.length);
  points.forEach((_, i) => pairs.set([i, (i + 1) % points.length], 2 * i));
  return { pointsLpsMm: Float32Array.from(points.flat()), pairs };
}

/** A direction that may stand for "up" on the screen: as near to the wanted one as the direction of view allows. */
export function chooseUp(towardViewer: Vec3, wanted: Vec3): Vec3 {
  const across = towardViewer[0] * wanted[0] + towardViewer[1] * wanted[1] + towardViewer[2] * wanted[2];
  const flat = along(wanted, scale(towardViewer, across), -1);
  const length = Math.hypot(...flat);
  return length > 1e-6 ? scale(flat, 1 / length) : completeBasis(towardViewer).u;
}
