// Drawn where the training case is drawn; tests know it by this name.
export { drawBeats, drawEcg, type DrawnBeat, type DrawnEcg } from '../../src/core/phantom/draw-ecg.ts';
