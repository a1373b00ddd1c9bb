"""Ordinary English words that carry no meaning of their own here, by their class in general English.

Where a definition gives one of them a meaning that some frame can use in the sentence, it has that meaning and no
other; else it says only how, where about or by whom. No class here holds what denies, doubts, orders, plans or takes
back, what counts or measures, names of drugs, wards and other patients, or verbs of not doing ("skipped", "forgot").
"""

from __future__ import annotations

from voice.english.listed import words_of

PARTICLES = words_of("up down in out off on back away over")
"""The second half of a phrasal verb, which may stand behind its object: "shut the line off"."""

CHANGED = words_of(
    """
    reduced lowered raised increased decreased adjusted titrated changed weaned eased cut turned backed brought taken
    dropped fell fallen rose risen let went gone came come crept climbed drifted settled pumped inflated deflated topped
    bled nudged got put took moved trimmed bumped
    """
)
"""Verbs of change; where the level that was reached is said with "to", they say no more."""

HOW_IT_MOVED = words_of(
    """
    popped whacked bumped shot chucked lobbed flung tossed threw thrown slung slapped slammed banged knocked tapped
    nudged eased coaxed wiggled wriggled jiggled fed threaded slid slipped glided glides slides sailed sails passes
    passed advanced introduced inserted entered delivered administered squeezed squirted shoved rammed pressed plunged
    stuffed tucked fitted slotted loaded dialled cranked hauled dragged yanked whipped hoicked scooped poured tipped
    dripped trickled flowed streamed bunged stuck placed positioned laid lay laying lying lies sits sitting stands
    standing rests resting landed reached touched brought brings bringing carried carries sunk sank climbed crept
    crawled drifted jumped leapt worked shifted moved edged teased twisted rotated turned rolled pointed aimed
    imposed set sets setting leaves leaving blown blew swept steered guided walked pushed puts putting galloping
    catching pressing pulling pulls squashed pinned clipped taped tied strapped hooked wrapped looped wedged
    propped perched parked sat seated bolused injected infused instilled transfused passed
    """
)
"""What a verb adds to a direction or a state that is said besides: "popped the clamp off", "whacked fifty in"."""

HOW_IT_WAS_SEEN = words_of(
    """
    saw seen see sees noted noting measured measuring registering registers indicates indicated recorded charted
    documented labelled labeled logged wrote written writing typed observed appears appeared spotted found finding
    called calling declaring declared announcing announced reporting reported states stated telling
    phoned rang bleeped paged texted messaged informed talking speaking says showing shown displaying displayed
    discussing discussed agreed agreeing considered
    """
)
"""Verbs of seeing, saying and writing down."""

HOW_IT_IS = words_of(
    """
    upper lower inner outer middle topmost rubber plastic metal steel silicone latex big small large little tiny wee
    long short wide narrow thick thin new old actual current present latest plain quick slow gentle smooth rough
    steady easy gradual careful neat tidy lovely decent proper noisy single spare portable mobile manual digital
    electronic automatic standard mild slight definite obvious distal proximal anterior posterior donor surgical
    medical clinical sterile disposable exact same soft loud handy
    """
)
"""Adjectives that name no state which counts."""

HOW_AND_WHERE_ABOUT = words_of(
    """
    yonder hither together apart forward forwards backwards upward upwards downward downwards sideways alongside
    overhead underneath straight freely simply meantime meanwhile besides though however indeed likewise directly
    from with by via per through thru towards toward along across around round against beside beneath behind near
    during upon onto amid among to at into
    """
)
"""Adverbs and prepositions; none says a direction or a state, as "off" and "out" do."""

PARTS_OF_A_BODY = words_of(
    """
    ear ears earlobe cheek cheeks chin jaw forehead brow temple eyebrow scalp shoulder shoulders elbow elbows wrist
    wrists hand hands palm finger fingers thumb knee knees hip hips thigh thighs leg legs feet toe toes heel heels arm
    arms forearm armpit tummy belly abdomen groin collarbone
    """
)

THINGS_AT_A_BED = words_of(
    """
    mattress pillow pillows pillowcase sheet sheets blanket blankets duvet gown sleeve sleeves collar pocket belt
    lanyard apron hook hooks rail rails shelf drawer cabinet cupboard table tabletop desk chair stool locker counter
    worktop windowsill ledge wall curtain monitor ventilator pump stand pole string cord ribbon bandage elastic velcro
    bedside footboard bedhead
    """
)

PARTS_OF_THE_KIT = words_of(
    "tubing connector adapter adaptor hub nozzle barrel plunger stem shaft limb machine device readout display screen"
)

PEOPLE_AT_WORK = words_of(
    """
    technician tech porter porters assistant student students colleague colleagues intern fellow attending resident
    registrar consultant surgeon surgeons anaesthetist anaesthetists anaesthetics anesthesia anesthesiologist
    intensivist radiographer radiologist matron doctor doctors medic medics physician attender orderly lab laboratory
    pharmacist relatives family wife husband son daughter mother father brother sister partner nightshift dayshift
    team
    """
)

OF_THE_RECORD = words_of(
    "chart record report reading figure result results case type sort style stage stuff thing things way shape matter"
)

CRIES = words_of(
    """
    lord god jesus christ gosh blimey crikey heavens goodness gracious bless phew whew wow yikes ouch ugh damn hell
    heck bugger crap feck flipping dear darling duck hen chap fella
    """
)

PLAIN = (
    HOW_IT_MOVED
    | HOW_IT_WAS_SEEN
    | HOW_IT_IS
    | HOW_AND_WHERE_ABOUT
    | PARTS_OF_A_BODY
    | THINGS_AT_A_BED
    | PARTS_OF_THE_KIT
    | PEOPLE_AT_WORK
    | OF_THE_RECORD
    | CRIES
)
