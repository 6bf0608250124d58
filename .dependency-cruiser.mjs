// The rings and the order inside core, as one table. docs/START-HERE.md says why; test/architecture proves it bites.
const ring = (name) => `(^|/)src/${name}/`;
const inCore = (name) => `(^|/)src/core/${name}(/|\\.ts$)`;
const TEST_FILE = '\\.(test|suite|bench)\\.tsx?$'; // tests may import anything
const forbid = (name, from, to, ...fromNot) => ({
  name,
  severity: 'error',
  from: { path: from, pathNot: [TEST_FILE, ...fromNot] },
  to,
});

const OUTWARD = {
  core: ['formats', 'tasks', 'host', 'web'],
  formats: ['tasks', 'host', 'web'],
  tasks: ['host', 'web'],
  host: ['web'],
  web: ['host'],
};

/** Each level of core may import lower levels and its own; a module that is not named here (room, verdict, echo, rhythm-case) stands at the top. */
export const CORE_LEVELS = [
  ['result', 'math', 'units', 'text'],
  ['volume', 'surface', 'audit'],
  ['root', 'access', 'haemodynamics', 'rhythm', 'angiogram', 'phantom'],
  ['projection', 'device'],
  ['deployment', 'release'],
  ['case', 'patient', 'programme'],
];
const namedModules = CORE_LEVELS.flat();
const notNamed = `(^|/)src/core/(?!(${namedModules.join('|')})(/|\\.ts$))`;

const coreOrder = CORE_LEVELS.slice(0, -1).flatMap((level, k) => {
  const higher = [...CORE_LEVELS.slice(k + 1).flat().map(inCore), notNamed];
  return level.map((name) => forbid(`core-${name}-looks-up`, inCore(name), { path: higher }));
});

const PACKAGES = ['npm', 'npm-dev', 'npm-optional', 'npm-peer', 'npm-bundled', 'npm-no-pkg', 'npm-unknown'];

export default {
  forbidden: [
    ...Object.entries(OUTWARD).map(([from, to]) =>
      forbid(`${from}-looks-outward`, ring(from), { path: to.map(ring) }),
    ),
    ...coreOrder,
    forbid('core-uses-the-phantom', ring('core'), { path: inCore('phantom') }, inCore('phantom')),
    forbid('core-uses-a-package', ring('core'), { dependencyTypes: [...PACKAGES, 'core', 'unknown'] }),
    forbid('tasks-uses-a-package', ring('tasks'), { dependencyTypes: PACKAGES }),
    ...['formats', 'tasks', 'web'].map((name) =>
      forbid(`${name}-uses-node`, ring(name), { dependencyTypes: ['core'] }), // 'core' = a Node built-in
    ),
    forbid('product-uses-a-dev-package', '(^|/)src/', { dependencyTypes: ['npm-dev'] }),
    forbid('product-uses-a-test-file', '(^|/)src/', { path: TEST_FILE }),
    forbid('product-uses-the-workshop', '(^|/)src/', { path: '(^|/)(test|bench|tools)/', pathNot: '(^|/)src/' }),
    forbid('import-not-found', '(^|/)src/', { couldNotResolve: true }),
    forbid('import-cycle', '(^|/)src/', { circular: true }),
  ],
  options: {
    tsPreCompilationDeps: true, // type imports are imports too
    doNotFollow: { path: 'node_modules' },
    enhancedResolveOptions: { exportsFields: ['exports'], conditionNames: ['import', 'node', 'default'] },
  },
};
