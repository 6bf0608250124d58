import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Plan } from '../../core/case/plan-types.ts';
import type { DeviceSize } from '../../core/device/device-types.ts';
import { placeFrame } from '../../core/deployment/place-frame.ts';
import { along, scale, type Vec3 } from '../../core/math/vec3.ts';
import { makeViewAxes, nameView } from '../../core/projection/camera-view.ts';
import { makeSurveyFrame } from '../../core/root/make-survey-frame.ts';
import type { RootSurvey } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { downsampleVolume, chooseBlockFactors } from '../../core/volume/downsample-volume.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { parseStl } from '../../formats/stl/parse-stl.ts';
import { callApi } from '../api/call-api.ts';
import { readBlock } from './read-block.ts';
import { chooseUp, closeLine, openSolidScene, type PartName, type SolidScene } from './solid-scene.ts';

/** The middle of the picture lies this high over the basal plane; this much about it is seen. */
const MIDDLE_MM = 10;
const REACH_MM = 36;
/** Finer voxels cost time without a graphics card and show no more at this size. */
const VOLUME_VOXEL_MM = 1;
const TURN_DEG = 10;
const PARTS: readonly PartName[] = ['lumen', 'calcium', 'frame', 'plane', 'volume'];
const PART_WORDS: Readonly<Record<PartName, string>> = { lumen: VIEWER_EN.partLumen, calcium: VIEWER_EN.partCalcium, frame: VIEWER_EN.partFrame, plane: VIEWER_EN.partPlane, volume: VIEWER_EN.partVolume };
const OPEN_PARTS: Readonly<Record<PartName, boolean>> = { lumen: true, calcium: true, frame: true, plane: true, volume: false };
/** Patient sizes stand upright unless the look is along the body. */
const HEAD: Vec3 = [0, 0, 1];

interface SolidProps {
  readonly caseId: string;
  readonly plan: Plan;
  readonly root: RootSurvey;
  /** Surfaces belong to the stored plan. */
  readonly planSha256: string;
}

/** Blood, calcium and the frame at a depth, in space. Loaded only when somebody opens it. */
export function SolidView({ caseId, plan, root, planSha256 }: SolidProps) {
  const place = useRef<HTMLDivElement>(null);
  const [scene, setScene] = useState<SolidScene | null>(null);
  const [problem, setProblem] = useState<string | null>(null);
  const [parts, setParts] = useState(OPEN_PARTS);
  const [isVolumeHere, setVolumeHere] = useState(false);
  const size = useMemo(() => findSize(plan), [plan.size]);
  const [depthMm, setDepth] = useState<number | null>(null);
  const shownDepthMm = depthMm ?? plan.landing?.startMm ?? size?.depthMm.start ?? 0;
  const frame = useMemo(() => makeSurveyFrame(root), [root]);

  useEffect(() => {
    if (!place.current) return;
    let opened: SolidScene | null = null;
    try {
      opened = openSolidScene(place.current, along(frame.originLps, frame.normalLps, MIDDLE_MM), REACH_MM);
    } catch {
      opened = null;
    }
    if (!opened) {
      setProblem(VIEWER_EN.solidNoGraphics);
      return;
    }
    const held = opened;
    held.lookFrom(frame.uLps, frame.normalLps);
    held.resize();
    setScene(held);
    const observer = new ResizeObserver(() => held.resize());
    observer.observe(place.current);
    return () => {
      observer.disconnect();
      held.close();
    };
  }, []);

  useEffect(() => {
    if (!scene) return;
    let isWanted = true;
    for (const [part, name] of [['lumen', 'root-lumen.stl'], ['calcium', 'calcium.stl']] as const) {
      void callApi('readSurface', { params: { caseId, name } }).then(async (answer) => {
        if (!answer.ok || !isWanted) return; // a root without calcium has no such surface
        const surface = parseStl(new Uint8Array(await answer.value.arrayBuffer()));
        if (isWanted && surface.ok) scene.putSurface(part, surface.value);
      });
    }
    return () => void (isWanted = false);
  }, [scene, caseId, planSha256]);

  useEffect(() => scene?.putLines('plane', closeLine(root.basalRing.contourLps)), [scene, root.basalRing.contourLps]);
  useEffect(() => scene?.putLines('frame', size ? placeFrame(size.frame, shownDepthMm, frame, root.map) : null), [scene, size, shownDepthMm, frame, root.map]);
  useEffect(() => {
    for (const part of PARTS) scene?.show(part, parts[part]);
  }, [scene, parts, isVolumeHere, size, shownDepthMm]);

  const loadVolume = (): void => {
    void readBlock(caseId, null, () => undefined).then((block) => {
      if (!block.ok || !scene) {
        setProblem(block.ok ? VIEWER_EN.solidNoGraphics : block.failure.message);
        return;
      }
      scene.putVolume(downsampleVolume(block.value, chooseBlockFactors(block.value, VOLUME_VOXEL_MM)), plan.scan.contrastHu.value ?? 350);
      setVolumeHere(true);
    });
  };
  const setPart = (part: PartName, on: boolean): void => {
    setParts((all) => ({ ...all, [part]: on, ...(part === 'volume' ? { lumen: !on } : {}) }));
    if (part === 'volume' && on && !isVolumeHere) loadVolume();
  };
  const look = (toward: Vec3, up: Vec3): void => scene?.lookFrom(toward, chooseUp(toward, up));
  const pressKey = (event: KeyboardEvent): void => {
    const turns: Readonly<Record<string, readonly [number, number]>> = { ArrowLeft: [TURN_DEG, 0], ArrowRight: [-TURN_DEG, 0], ArrowUp: [0, -TURN_DEG], ArrowDown: [0, TURN_DEG] };
    const turn = Object.hasOwn(turns, event.key) ? turns[event.key] : undefined;
    if (turn) scene?.turn(...turn);
    else if (event.key === '+' || event.key === '=') scene?.zoom(1.15);
    else if (event.key === '-') scene?.zoom(1 / 1.15);
    else return;
    event.preventDefault();
  };
  if (problem !== null && !scene) return <p class="tagged" role="status">{formatText(VIEWER_EN, 'solidFailed', { text: problem })}</p>;
  return (
    <div class="solid-view">
      <div class="tools" role="group" aria-label={VIEWER_EN.solidParts}>
        {PARTS.map((part) => (
          <label key={part} class="inline"><input type="checkbox" checked={parts[part]} disabled={part === 'frame' && !size} onChange={(e) => setPart(part, e.currentTarget.checked)} />{PART_WORDS[part]}</label>
        ))}
        {size && (
          <label class="inline">{VIEWER_EN.frameDepth}
            <input type="number" class="short" step="0.5" min="-10" max="25" value={Math.round(shownDepthMm * 10) / 10} onInput={(e) => Number.isFinite(e.currentTarget.valueAsNumber) && setDepth(Math.max(-10, Math.min(25, e.currentTarget.valueAsNumber)))} />
            <span class="unit">mm</span>
          </label>
        )}
      </div>
      {problem !== null && <p role="status">{problem}</p>}
      <div ref={place} class="solid" tabIndex={0} role="group" aria-label={VIEWER_EN.solidLabel} onKeyDown={pressKey} />
      <div class="viewbar" role="group" aria-label={VIEWER_EN.lookFrom}>
        <span class="soft">{VIEWER_EN.lookFrom}</span>
        <button type="button" class="quiet" onClick={() => look(frame.normalLps, frame.uLps)}>{VIEWER_EN.lookAorta}</button>
        <button type="button" class="quiet" onClick={() => look(scale(frame.normalLps, -1), frame.uLps)}>{VIEWER_EN.lookVentricle}</button>
        <button type="button" class="quiet" onClick={() => look(frame.uLps, frame.normalLps)}>{VIEWER_EN.lookSide}</button>
        {plan.views?.chosen.slice(0, 3).map((view) => (
          <button key={view.role} type="button" class="quiet" onClick={() => { const axes = makeViewAxes(view); look(axes.beamLps, Math.abs(axes.beamLps[2]) > 0.99 ? axes.upLps : HEAD); }}>{formatText(VIEWER_EN, 'lookView', { angle: nameView(view) })}</button>
        ))}
      </div>
      <p class="help">{size ? formatText(VIEWER_EN, 'frameSay', { size: `${size.device} ${size.label}`, depth: formatNumber(shownDepthMm, 1) }) : VIEWER_EN.frameNone} {VIEWER_EN.solidHelp}</p>
    </div>
  );
}

/** The size that the plan answers, else the one its landing window belongs to. */
function findSize(plan: Plan): (DeviceSize & { readonly device: string }) | null {
  const { size } = plan;
  if (!size?.answer) return null;
  const { device, size: label } = size.answer;
  const found = size.table.devices.find((d) => d.id === device)?.sizes.find((s) => s.label === label);
  return found ? { ...found, device } : null;
}
