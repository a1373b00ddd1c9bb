"""What English says beside the matter itself: words that mean nothing for the log.

A word that is not here, in no guard (`guards`) and in no idea of the definition is a content word: it is asked about,
or nothing is logged. A list here may be too short (then the log asks too often); it must never hold a word that
changes what is meant: no direction, no state, no quantity, no device.

`HARMLESS` means nothing anywhere. `PLAIN`, by its classes in general English, says only how, where about or by whom,
unless a definition gives the word a meaning that some frame can use in the sentence; then it has that and no other.
No class holds what denies, doubts, orders, plans or takes back, what counts or measures, names of drugs, wards and
other patients, or verbs of not doing ("skipped", "forgot"). No word stands in both.
"""

from __future__ import annotations

from voice.english.listed import words_of

HARMLESS = words_of(
    """
    beautifully hor ok fairly okie gentleman at colleague guys currently tidy easy 're went oof mam its slowly
    own anaesthesia right morning are using figure surgeons medics nurse staff anaesthetist 'm to we righto
    immediately fella very sir gotten doctor whole patient person gets quick was hey same spot their as
    basically smoothly reg being boss anesthetist since also presently via everyone quickly every have somehow
    kindly ah straightaway lady stuff things morning's uh smooth told colleagues across anyhow lah hers surely
    thank certainly per medic team woman large than cold done i herewith while cleanly by lovely leh warm and
    like people ahead rather her all sweet perfect us thanks glad already him consultant's upon wee figures she
    love yep be cos meanwhile heya erm saying um hours looking alright slow phew use pretty themselves written
    assistant clean great och our now of patient's them afternoon theirs is but wide evidently moment the
    anesthesia everybody's though dead easily such confirmedly go side sorry tonight's proper yes everybody
    reg's night paramedic indeed got bloke says whatever yo it'd little student snug logged chap apologies lot
    obviously exactly am rightio final advised charted comes madam big look this goes registrar oh value okey
    team's finally there advise telling hereby just consultant ma'am still moderate ours kind nonetheless even
    his lads instantly plus those solid me sister promptly ourselves had finished first whose fine eh entire
    then bit you because get did along anyway folks saw your hourly po noted hour himself professor crew's today
    way well finish number has stat that going away documented here clearly somewhat it he steadily perfectly
    these herself standing himself's too cheers which voila hon reported uhuh reading looks nurse's trainee seen
    guy made ones hmm mhm mine alrighty were happy small apparently each does shame nice lor report bitty 's new
    've watching say dokey bang er came surgeon yeah lad for brilliant yourself some doing definitely beautiful
    any simply do my gone a nicely only quite doctor's evening good thing excuse gently been actually who steady
    surgeon's entered doc bits okay precisely myself ja so used literally mate really recorded an with they
    cracking man come aye resident again getting having intern itself coming grand said attending ta kay bosh
    bugger blimey crikey shoot darn dang damn jeez gosh wow whoa yikes hurrah hooray bingo boom bam yay yup yah
    si oui ay aiyo aiyah alamak wah na opo mun bach pet duck hen hinny pal buddy bud dude bro sis chief guv hun
    honey sweetheart darling cobber yous youse gang y'all noon sorted definitive properly single bonnie braw
    canny neat mint ace satisfied pleased delighted comfortable tolerated tolerating tolerates calm easier
    better tensing coughing gagging grumbling count counted counting totted tallied measured verified dot ol' ol
    wise forward phone screen board day nights sir's doc's everything missed misspoke attention whoops oopsie
    ach sure fair brill belter lads' everyone's rightly dinky titch smidge tad smidgen swift swiftly rapid
    rapidly fast handy dandy painless effortless effortlessly carefully cautiously delicately gradually
    progressively incrementally stepwise patiently correctly accurately officially formally together altogether
    additionally moreover furthermore besides likewise similarly subsequently thereafter afterwards triple
    rechecked personally eyeball eyeballed witness witnessed scrub circulating runner float student's med
    paramedic's crew crews tonight shift round duty hello hi howdy greetings g'day ey cap'n captain prof
    houseman sho officer charge matron missus mister mr mrs ms honestly frankly truly truthfully seriously chart
    cool sound class magic champion smashing super superb excellent wonderful fantastic terrific splendid
    marvellous fabulous awesome beauty bueno bien gut genau prima schon danke gracias vale venga accha achha
    theek hai ji yaar bhai arre liao wor mah meh innit fella's lassie laddie lass lad's bloke's roundabout
    aah abeg accomplished accordingly acha achcha aha aided aiya aiyoh akh alert alhamdulillah allora alors
    amiga amigo amigos anak announced ano appropriate ara areh arrah arrey asap aseptic aseptically assistant's
    assisted ate attained awake babe babes bah bale bas begorrah beta bhaiya biko bitte blessed blossom blud bon
    bonny bossman bossy brava bravo breeze bruv c'mon cakewalk caray certo chai chalo champ chaps chuffed cinch
    claro compadre comrade comrades consequently consistently copy cor cracker crumbs cushty customary d'accord
    dai darlin dear dearie deary decent declared didi dieu digger dios doch doddle donc doozy dory drowsy ducky
    ebbene ecco ehen ehh eish enfin entonces evenly exacto fam fellas firmly flower folkses forthwith
    fortunately freilich freshly friend friends furnished gaffer gell gentlemen gents gingerly gladly gloved
    golly goodness gowned gracious grateful guvnor ha haan haba habibi habibti hah haha hala hamdulillah han
    handily handsome happened happily hay heavens heh helper helping hence henceforth hisself hitherto ho hombre
    hop hoppla huh hunky hup ideal impressive inshallah insomma jammy janey jare jawohl jaysus jolly junior kai
    kasi khalas king klar ko kuya la laa ladies ladies' lately lickety lista listo loh lookit loosely lovey
    lovie luckily lucky luv madre mamma manageable marra mashallah masked meantime mentioned merci mercifully
    mhmm mia mira mm mmhmm mmm moin momentarily mon mujer musha nako naku newly nowadays nownow observer
    occurred oga oho oi oiga ojo ole onlooker oo ooh ope ordentlich ordinary ottimo ourself oy oye pdq peaceful
    peach peachy perfecto perfetto petal pleasing poppet posse predictably prego presto pronto proud pues pukka
    queen reasonable reassuring recently reliably remarked rendered respectable righteo righty rightyo ripping
    routine saab safely sahib salamat sarge scrubbed securely sef sehr self senior's servus sha sharpish sheesh
    shukran sia sige simple skipper sleeping sleepy smartish snoring softly soonest soundly spiffing squad
    squire standard stated stellar sterile stimmt stonking straightforward strewth struth suitable sunshine
    supervised supervising supplied surprisingly susmaryosep sweat sweating sweaty sweetie sweetly sweetpea
    swimmingly tamam tapos tasty tenderly thanked thankfully theirselves themself thereby therefore therewith
    thik thrilled thus tidily tiens tiger tightly tiptop tja today's tolerable toll topnotch trainee's treasure
    troops uff uffda uncomplicated uneventful uniformly unsurprisingly wa walahi walao wallahi wey wicked
    wilco wisha ya yalla yani yepp yepper yerra yessir yessiree yinz
    aw euh pfff pff yer em meself doke lekker howay ag heaps afraid divil sakes crikes eek hoo gee whee
    huzzah kia
    """
)
"""Words that may stand anywhere and change nothing."""

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
    passed advanced introduced inserted delivered administered squeezed squirted shoved rammed pressed plunged stuffed
    tucked fitted slotted loaded dialled cranked hauled dragged yanked whipped hoicked scooped poured tipped dripped
    trickled flowed streamed bunged stuck placed positioned laid lay laying lying lies sits sitting stands rests
    resting landed reached touched brought brings bringing carried carries sunk sank climbed crept crawled drifted
    jumped leapt worked shifted moved edged teased twisted rotated turned rolled pointed aimed imposed set sets
    setting leaves leaving blown blew swept steered guided walked pushed puts putting galloping catching pressing
    pulling pulls squashed pinned clipped taped tied strapped hooked wrapped looped wedged propped perched parked sat
    seated bolused injected infused instilled transfused
    """
)
"""What a verb adds to a direction or a state that is said besides: "popped the clamp off", "whacked fifty in"."""

HOW_IT_WAS_SEEN = words_of(
    """
    see sees noting measuring registering registers indicates indicated labelled labeled wrote writing typed observed
    appears appeared spotted found finding called calling declaring announcing reporting states phoned rang bleeped
    paged texted messaged informed talking speaking showing shown displaying displayed discussing discussed agreed
    agreeing considered
    inspected examined
    """
)
"""Verbs of seeing, saying and writing down."""

HOW_IT_IS = words_of(
    """
    upper lower inner outer middle topmost rubber plastic metal steel silicone latex tiny long short narrow thick thin
    old actual current present latest plain gentle rough gradual careful noisy spare portable mobile manual digital
    electronic automatic mild slight definite obvious distal proximal anterior posterior donor surgical medical
    clinical disposable exact soft loud
    elder eldest younger youngest far poor full
    """
)
"""Adjectives that name no state which counts."""

HOW_AND_WHERE_ABOUT = words_of(
    """
    yonder hither apart forwards backwards upward upwards downward downwards sideways alongside overhead underneath
    straight freely however directly from through thru towards toward around against beside beneath behind near during
    onto amid among into
    """
)
"""Adverbs and prepositions; none says a direction or a state, as "off" and "out" do."""

PARTS_OF_A_BODY = words_of(
    """
    ear ears earlobe cheek cheeks chin jaw forehead brow temple eyebrow scalp shoulder shoulders elbow elbows wrist
    wrists hand hands palm finger fingers thumb knee knees hip hips thigh thighs leg legs feet toe toes heel heels arm
    arms forearm armpit tummy belly abdomen groin collarbone
    breastbone sternum ribs rib calf calves ankle ankles buttock buttocks spine
    """
)

THINGS_AT_A_BED = words_of(
    """
    mattress pillow pillows pillowcase sheet sheets blanket blankets duvet gown sleeve sleeves collar pocket belt
    lanyard apron hook hooks rail rails shelf drawer cabinet cupboard table tabletop desk chair stool locker counter
    worktop windowsill ledge wall curtain monitor ventilator pump stand pole string cord ribbon bandage elastic velcro
    bedside footboard bedhead
    vest tunic jacket trousers lapel waistband bib
    """
)

PARTS_OF_THE_KIT = words_of(
    """
    tubing connector adapter adaptor hub nozzle barrel plunger stem shaft limb machine device readout display
    """
)

PEOPLE_AT_WORK = words_of(
    """
    technician tech porter porters students fellow anaesthetists anaesthetics anesthesiologist intensivist
    radiographer radiologist doctors physician attender orderly lab laboratory pharmacist relatives family wife
    husband son daughter mother father brother partner nightshift dayshift
    """
)

OF_THE_RECORD = words_of("record result results case type sort style stage shape matter")

HOW_A_PATIENT_IS = words_of(
    """
    restless agitated anxious settled sleepy drowsy frightened scared nervous tearful cooperative uncooperative confused
    combative thirsty hungry tired exhausted sweaty clammy shivering
    name names amount amounts
    story climb descent
    """
)

COLLOQUIAL = words_of(
    """
    thingy thingummy thingamajig doodah whatsit gizmo gubbins plenty loads chur squiz gander liking matey geez yeesh
    watched answered breathed breathe
    """
)

CRIES = words_of("lord god jesus christ bless whew ouch ugh hell heck crap feck flipping")

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
    | HOW_A_PATIENT_IS
    | COLLOQUIAL
    | CRIES
)

NOTHING = HARMLESS | PLAIN
"""Words that may all stand in a phrase that means nothing more."""
